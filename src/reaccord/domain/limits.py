"""Limits with their names resolved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Literal, NamedTuple

from reaccord.domain.limit_key import LimitKey
from reaccord.domain.lines import RuleKind
from reaccord.domain.stock import Content

WHOLE_FORMULA = frozenset({"cost", "lines", "dilutions made", "carrier", "undeclared"})
"""What people call the limits on the whole formula; a rule called so is said to be one."""


class Member(NamedTuple):
    """What a rule restricts: a constituent with all it covers, or a material inside blends too.

    `most` is the member's own limit, a share of the finished product; `absent`: no stock holds it.
    """

    name: str
    constituents: frozenset[str]
    material: str
    most: float
    absent: bool

    def held(self, content: Content) -> float:
        """Gram of the member per gram of `content`, contents at their high end."""
        if self.material:
            return content.materials.get(self.material, 0.0)
        return sum(content.high.get(name, 0.0) for name in sorted(self.constituents))


class RuleClaim(NamedTuple):
    """One row of the programme: dosage x sum of coefficient x q_member <= most; `terms` are (coefficient, member)."""

    key: LimitKey
    label: str
    terms: tuple[tuple[float, Member], ...]
    most: float
    unit: Literal["share", "ratio"]


@dataclass(frozen=True)
class Rule:
    """One rule on restricted substances in the finished product; `most` is 1 for a ratio.

    `product` is the one its line is about; a ratio has lines of several, and none here.
    """

    label: str
    kind: RuleKind
    members: tuple[Member, ...]
    most: float
    authority: str = ""
    edition: str = ""
    date: str = ""
    cautions: tuple[str, ...] = ()
    product: str = ""

    def claims(self) -> Iterator[RuleClaim]:
        """Yield what the rule claims: of a sum or a ratio one thing, else one of each member."""
        called = f"{self.label} (rule)" if self.label.casefold() in WHOLE_FORMULA else self.label
        if self.kind == "sum":
            terms = tuple((1.0, member) for member in self.members)
            yield RuleClaim(self._key(*self.members), called, terms, self.most, "share")
        elif self.kind == "ratio":
            terms = tuple((1.0 / member.most, member) for member in self.members)
            yield RuleClaim(self._key(*self.members), called, terms, 1.0, "ratio")
        else:
            for member in self.members:
                own_name = self.label.casefold() == member.name.casefold()
                label = called if own_name else f"{self.label}: {member.name}"
                yield RuleClaim(self._key(member), label, ((1.0, member),), member.most, "share")

    def _key(self, *members: Member) -> LimitKey:
        return LimitKey("restricted", (self.label, self.kind, self.product, *(member.name for member in members)))


@dataclass(frozen=True)
class NamedAmount:
    """Gram of neat material: least and most (equal: exactly); contents of blends are not counted."""

    material: str
    least_g: float
    most_g: float
