"""The rows of the tables, cells typed, names still as written.

Shares are fractions by mass, money is per kilogram in the tables' own currency, masses are grams.
`at` is the place of the row, so that whoever finds a doubt later can say where.
"""

from __future__ import annotations

import datetime
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

from reaccord.findings import Place

TRACE = 0.00025
"""A `tr` counts as 0.025 %."""
TRACE_HIGH = 0.0005
"""A `tr` is at most 0.05 %."""

Mark = Literal["", "tr", "nd"]
Basis = Literal["mass", "fid-area"]


@dataclass(frozen=True)
class Reported:
    """A share as an analysis prints it: a fraction, `tr` (a trace) or `nd` (not detected).

    `most` is what a trace can at most be (blank: 0.05 %; `<0.1` says so itself), or the upper end of a range, whose
    lower end is `least`; `number` is its middle then. `taken` is what an unusual token was taken for, in words; it is
    no part of the value.
    """

    number: float
    mark: Mark = ""
    most: float | None = None
    taken: str = field(default="", compare=False)
    least: float | None = None

    @property
    def high(self) -> float:
        """The most the printed token can mean."""
        if self.mark == "tr" and self.most is None:
            return TRACE_HIGH
        return self.number if self.most is None else self.most

    @property
    def low(self) -> float:
        """The least it can mean."""
        if self.mark == "tr":
            return 0.0
        return self.number if self.least is None else self.least

    @property
    def ranges(self) -> bool:
        """Whether it is printed as a range."""
        return self.least is not None


class TargetLine(NamedTuple):
    """One row of the target: `name` may join several constituents with ` + ` or be a material."""

    at: Place
    name: str
    shares: Mapping[str, Reported | None]
    cas: str = ""
    low: Reported | None = None
    high: Reported | None = None
    weight: float = 1.0


class BottleLine(NamedTuple):
    """One bottle. `purity` is a fraction, `strength` gram of material per gram in the bottle.

    `purity_high` is the upper end of a purity given as a range, of which `purity` is the middle.
    """

    at: Place
    material: str
    constituent: str = ""
    purity: float | None = None
    purity_high: float | None = None
    strength: float = 1.0
    carrier: str = ""
    price_per_kg: float | None = None
    stock_g: float | None = None
    lot: str = ""
    opened: datetime.date | None = None
    keeps_months: float | None = None
    minimum_g: float | None = None
    step_g: float | None = None
    solid: bool = False
    label_name: str = ""
    quality: str = ""
    conditions_met: tuple[str, ...] = ()
    note: str = ""


class Pack(NamedTuple):
    """A pack that can be bought: of which bottle, how many gram, for how much; None where it is not said."""

    bottle: BottleLine
    grams: float | None = None
    price: float | None = None


class CompositionLine(NamedTuple):
    """One part of a material: a constituent, a material or `undeclared`; `lot` blank: of every lot without its own.

    `strength` is None where none is written.
    """

    at: Place
    material: str
    part: str
    share: Reported
    low: float | None = None
    high: float | None = None
    basis: Basis | None = None
    part_kind: Literal["", "constituent", "material"] = ""
    strength: float | None = None
    carrier: str = ""
    lot: str = ""

    @property
    def diluted(self) -> bool:
        """Whether it says that the part is a dilution: so it is a material, no constituent."""
        return bool(self.carrier) or (self.strength or 1.0) < 1


class ConstituentLine(NamedTuple):
    """One row of the study's own constituents table; a blank leaves what the registry knows."""

    at: Place
    constituent: str
    cas: str = ""
    synonyms: tuple[str, ...] = ()
    formula: str = ""
    benzene_rings: int | None = None
    carrier: bool | None = None
    members: tuple[str, ...] = ()
    carries: tuple[str, ...] = ()


ANY_PRODUCT = "any"
"""What the product of a limit says that holds for every one."""
RuleKind = Literal["each", "sum", "ratio", "prohibited"]


class LimitLine(NamedTuple):
    """One row of the restricted substances; `most` is a share of the finished product, `date` as 2026-11-25 or 2026."""

    at: Place
    rule: str
    members: tuple[str, ...]
    product: str
    most: float | None
    kind: RuleKind = "each"
    authority: str = ""
    edition: str = ""
    date: str = ""
    cautions: tuple[str, ...] = ()
    condition: tuple[str, ...] = ()

    @property
    def only_condition(self) -> bool:
        """Whether it limits no share, but asks for a condition."""
        return self.most is None and self.kind != "prohibited"

    def holds_for(self, product: str) -> bool:
        """Whether it holds for a product: that of its own, or any."""
        return self.product.lower() in {ANY_PRODUCT, product.lower()}


class FormulaLine(NamedTuple):
    """One line of a formula: so many grams poured from one stock; `strength` is None where none is written.

    `order` is its place on the sheet for the bench, where it has one; `planned_g` what a sheet with the grams really
    poured says was to be poured.
    """

    at: Place
    material: str
    grams: float
    strength: float | None = None
    carrier: str = ""
    lot: str = ""
    order: int | None = None
    planned_g: float | None = None


class KeyLine(NamedTuple):
    """One vial of a blind test: whose it is, which place it has, its code, what it holds."""

    at: Place
    assessor: str
    position: int
    code: str
    sample: str


class AnswerLine(NamedTuple):
    """One assessor's answer: the code of the vial that is the odd one, or the one chosen."""

    at: Place
    assessor: str
    answer: str


class DeclarationLine(NamedTuple):
    """What a label must name from more than so much in the finished product; `kind` prohibited: not at all."""

    at: Place
    label_name: str
    kind: Literal["substance", "natural", "prohibited"]
    cas: tuple[str, ...] = ()
    begins: tuple[str, ...] = ()
    leave_on: float | None = None
    rinse_off: float | None = None
    new_from: datetime.date | None = None
    all_from: datetime.date | None = None
    authority: str = ""
    edition: str = ""
    date: str = ""
    note: str = ""
