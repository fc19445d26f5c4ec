"""What a study keeps of its reading: names settled, blends opened, no setting applied that can be changed."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal, NamedTuple

from reaccord.domain.constituent import Constituent
from reaccord.domain.limits import Member
from reaccord.domain.lines import BottleLine, LimitLine, Reported
from reaccord.domain.stock import Content, StockKey
from reaccord.findings import Finding, Place

PartKind = Literal["constituent", "material", "undeclared"]
Use = Literal["", "never", "always"]


class Part(NamedTuple):
    """One part of a neat material: fractions by mass, `low` to `high`; `strength` and `carrier` of a material part."""

    kind: PartKind
    name: str
    low: float
    share: float
    high: float
    place: Place
    strength: float = 1.0
    carrier: str = ""


class TargetEntry(NamedTuple):
    """One row of the target as published: `shares` by sample, `own` the constituents it names, `members` all it covers.

    `response` is the factor that turns area into mass, up to the sum of the sample.
    """

    members: frozenset[str]
    label: str
    place: Place
    shares: Mapping[str, Reported | None]
    low: Reported | None = None
    high: Reported | None = None
    weight: float = 1.0
    own: tuple[str, ...] = ()
    response: float = 1.0


class Price(NamedTuple):
    """What one gram of a bottle costs (None: nobody knows).

    `lacking` says which part of a blend has no price, `assumed` which share of it is priced as the rest.
    """

    per_g: float | None = None
    lacking: str = ""
    assumed: float = 0.0


class Bottle(NamedTuple):
    """One bottle, before it is known whether it may be poured.

    `analysis` is under what name `Settled.parts` has what it is made of, "" where no table says it. `sums` are
    warnings: a sum it states, of which the target lists the members apart; with `apart` it is set aside for one. `use`
    overrules what excludes the bottle, or what does not.
    """

    key: StockKey
    content: Content
    price: Price
    line: BottleLine
    analysis: str
    sums: tuple[Finding, ...] = ()
    apart: bool = False
    use: Use = ""


class RuleEntry(NamedTuple):
    """One row of the restricted substances.

    `members` as the row names them; `sums` are, for each, the sums of isomers that may hold it.
    """

    line: LimitLine
    members: tuple[Member, ...]
    sums: tuple[tuple[str, ...], ...]


@dataclass(frozen=True)
class Settled:
    """Everything of a study's tables, once names are settled and blends are opened.

    `parts` are by analysis: a material, or a lot with an analysis of its own; `order` is all of them, what one holds
    before it. `speaks_for` is the analysis of a material inside a blend, `analysed` the material of an analysis, where
    they are called otherwise. `stands_for` are the names a neat bottle of a material is a bottle of. `diluting` are the
    constituents that the tables make carriers, `diluting_made` those that the carrier of dilutions to be made adds.
    `warnings` were noted while the tables were read; `multiples` are by label of a row (1 where there is none).
    """

    target: tuple[TargetEntry, ...]
    bottles: tuple[Bottle, ...]
    rules: tuple[RuleEntry, ...]
    order: tuple[str, ...]
    parts: Mapping[str, tuple[Part, ...]]
    speaks_for: Mapping[str, str]
    analysed: Mapping[str, str]
    stands_for: Mapping[str, frozenset[str]]
    carrier_materials: frozenset[str]
    diluting: frozenset[str]
    diluting_made: frozenset[str]
    dilution_carrier: str
    constituents: Mapping[str, Constituent]
    unknown: Mapping[str, tuple[Place, ...]]
    asked: Mapping[str, tuple[str, ...]]
    warnings: tuple[Finding, ...]
    multiples: Mapping[str, float]
