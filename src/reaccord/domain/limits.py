"""Limits with their names resolved."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from reaccord.domain.lines import RuleKind
from reaccord.domain.stock import Content


@dataclass(frozen=True)
class Member:
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


@dataclass(frozen=True)
class Rule:
    """One rule on restricted substances in the finished product; `most` is 1 for a ratio."""

    label: str
    kind: RuleKind
    members: tuple[Member, ...]
    most: float
    authority: str = ""
    edition: str = ""
    date: str = ""
    cautions: tuple[str, ...] = ()

    def claims(self) -> Iterator[tuple[str, tuple[tuple[float, Member], ...], float]]:
        """Yield `(label, ((coefficient, member), ...), most)`: each claim is one row of the programme.

        A claim holds when dosage x sum of coefficient x q_member <= most.
        """
        if self.kind == "sum":
            yield self.label, tuple((1.0, member) for member in self.members), self.most
        elif self.kind == "ratio":
            yield self.label, tuple((1.0 / member.most, member) for member in self.members), 1.0
        else:
            for member in self.members:
                own_name = self.label.casefold() == member.name.casefold()
                label = self.label if own_name else f"{self.label}: {member.name}"
                yield label, ((1.0, member),), member.most


@dataclass(frozen=True)
class NamedAmount:
    """Gram of neat material: least and most (equal: exactly); contents of blends are not counted."""

    material: str
    least_g: float
    most_g: float
