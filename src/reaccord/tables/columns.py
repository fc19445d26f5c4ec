"""Every column of every table, declared once: name, kind of cell, unit, range, allowed words, meaning.

Readers, writers and the manual all take it from here.
"""

from __future__ import annotations

import math
from typing import Literal, NamedTuple

LARGEST = 1e9
"""No gram and no price on a shelf is above this; more is a slip of the keyboard."""

CAUTIONS = ("skin", "light", "flame", "swallow", "pets")
"""Words of the column cautions; what they say stands in `reaccord.report.data`."""

Kind = Literal[
    "text",
    "cas",
    "name",
    "names",
    "words",
    "number",
    "whole",
    "share",
    "purity",
    "reported",
    "date",
    "some date",
    "yes/no",
    "choice",
    "free",
]
"""A name joins tables: it is one line, of visible letters, without footnote marks. `names` are several, separated by
`;`, and so are `words`, each one of the choices. A dash in a `cas` cell is a blank. A `free` cell may hold anything."""


class Column(NamedTuple):
    """One column. Range ends are in the cell's own reading (shares: fractions); `above` is exclusive.

    `unit` is that of a number. A `required` column must be there and every cell of it filled, unless it `may_be_blank`.
    """

    name: str
    kind: Kind
    meaning: str
    required: bool = False
    may_be_blank: bool = False
    least: float = -math.inf
    above: float = -math.inf
    most: float = math.inf
    choices: tuple[str, ...] = ()
    unit: str = ""


def _text(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, "text", meaning, required)


def _name(name: str, meaning: str, *, required: bool = False) -> Column:
    return Column(name, "name", meaning, required)


def _strength(meaning: str) -> Column:
    return Column("strength", "share", meaning, above=0, most=1)


TARGET = (
    _name(
        "constituent",
        "a constituent, several joined by ` + ` that were reported as one value, or a material",
        required=True,
    ),
    Column("cas", "cas", "CAS number, to make sure"),
    Column("low", "reported", "lower end of a band; blank with a high: 0", least=0, most=1),
    Column("high", "reported", "upper end of a band; blank with a low: 100 %", least=0, most=1),
    Column(
        "weight", "number", "what a row is off counts so many times, before it is squared; blank: 1", least=0, most=1e6
    ),
)
"""The target also has one column for each sample (`SAMPLE`)."""

SAMPLE = Column("sample", "reported", "percent by mass, `tr` or `nd`, or a range (`15-35`, `> 95`)", least=0, most=1.02)

BOTTLES = (
    _name("material", "what is in the bottle", required=True),
    _name("constituent", "short form for a single chemical: which one"),
    Column("purity", "purity", "short form: percent of that constituent", above=0, most=1),
    _strength("percent of material in the bottle; blank: neat"),
    _name("carrier", "what it is diluted in"),
    Column("price_per_kg", "number", "price as in the bottle", least=0, most=LARGEST, unit="per kg"),
    Column("stock_g", "number", "on hand; blank: unlimited", least=0, most=LARGEST, unit="g"),
    _text("lot", "lot or batch number"),
    Column("opened", "date", "date opened"),
    Column("keeps_months", "number", "how long it keeps after opening", above=0, most=1200, unit="months"),
    Column("minimum_g", "number", "its own smallest weighable mass", least=0, most=LARGEST, unit="g"),
    Column("step_g", "number", "its own step: the weight of a drop", above=0, least=1e-7, most=LARGEST, unit="g"),
    Column("solid", "yes/no", "a solid at room temperature"),
    _text("label_name", "name on the declaration"),
    _text("quality", "grade"),
    Column("conditions_met", "names", "conditions of rules that the certificate of this bottle fulfils"),
    Column("note", "free", "anything"),
)

CATALOGUE = (
    *BOTTLES,
    Column("pack_g", "number", "what is in a pack", above=0, most=LARGEST, unit="g"),
    Column(
        "pack_price", "number", "what the pack costs; without price_per_kg it is the price too", least=0, most=LARGEST
    ),
)
"""Bottles that can be bought: of each several rows, one a pack, may stand there."""

COMPOSITIONS = (
    _name("material", "the material", required=True),
    _name("part", "a constituent, a material, or `undeclared`", required=True),
    Column("share", "reported", "percent by mass, or `tr`, `nd`", required=True, least=0, most=1.02),
    Column("low", "share", "lowest share known", least=0, most=1),
    Column("high", "share", "highest share known", least=0, most=1),
    Column("basis", "choice", "what its percentages are; blank: mass", choices=("mass", "fid-area")),
    _text("lot", "this analysis is of that lot; blank: of every lot without one of its own"),
    Column("part_kind", "choice", "what the part is, where a name is both", choices=("constituent", "material")),
    _strength("of a material part: percent of it in the dilution used; blank: neat, if a bottle is"),
    _name("carrier", "of a material part: what it is diluted in"),
)

CONSTITUENTS = (
    _name("constituent", "its name", required=True),
    Column("cas", "cas", "CAS number"),
    Column("synonyms", "names", "other names"),
    _text("formula", "molecular formula, as C10H18O"),
    Column("benzene_rings", "whole", "number of benzene rings", least=0, most=20),
    Column("carrier", "yes/no", "whether it only dilutes"),
    Column("members", "names", "of a sum of isomers: its members"),
    Column("carries", "names", "materials it is known to occur in: where they have no row of it, it is not analysed"),
)

LIMITS = (
    _text("rule", "name of the rule", required=True),
    Column("members", "names", "constituents or materials it counts", required=True),
    _text("product", "the product it holds for, or `any`", required=True),
    Column(
        "max",
        "share",
        "most in the finished product; blank only for prohibited (0), or with a condition (then that alone counts)",
        required=True,
        may_be_blank=True,
        least=0,
        most=1,
    ),
    Column(
        "kind",
        "choice",
        "how the members count; blank (of one member only): each",
        choices=("each", "sum", "ratio", "prohibited"),
    ),
    _text("authority", "who says so"),
    _text("edition", "which edition"),
    Column("date", "some date", "date of that edition"),
    Column("cautions", "words", "what to be careful of", choices=CAUTIONS),
    Column("condition", "names", "what the certificate of the raw material must say (`peroxide value under 20`)"),
)

DECLARATION = (
    _text("label_name", "the name on the label", required=True),
    Column("kind", "choice", "what it is", required=True, choices=("substance", "natural", "prohibited")),
    Column("cas", "names", "CAS numbers of the substance and its isomers, which count together"),
    Column("begins", "names", "of a natural: how the label name of its bottle begins"),
    Column("leave_on", "share", "declared from more than this in a product that stays on", least=0, most=1),
    Column("rinse_off", "share", "the same in a product that is rinsed off", least=0, most=1),
    Column("new_from", "date", "products new on the market declare it from this day; blank: already"),
    Column("all_from", "date", "all products on the market from this day; blank: already"),
    _text("authority", "who says so"),
    _text("edition", "which edition"),
    Column("date", "some date", "when it was read"),
    Column("note", "free", "anything; what was not verified"),
)

FORMULA = (
    _name("material", "the material", required=True),
    _strength("percent of material in the stock; blank: neat, if a bottle is"),
    _name("carrier", "what it is diluted in"),
    _text("lot", "lot or batch number"),
    Column("grams", "number", "what is poured", required=True, least=0, most=LARGEST, unit="g"),
    Column("order", "whole", "when it is weighed: 1 first; blank: after those, as the sheet orders them", least=1),
    Column("share", "share", "written beside a formula, not read: part of the carrier-free mass"),
    Column("cost", "number", "written beside a formula, not read: what the line costs"),
)

KEY = (
    _text("assessor", "who smells", required=True),
    Column("position", "whole", "which place the vial has", required=True, least=1, most=3),
    _text("code", "the three digits on the vial", required=True),
    _text("sample", "what it holds", required=True),
)

ANSWERS = (
    _text("assessor", "who smells", required=True),
    _text("first", "code of the vial smelled first; written on the sheet, not read"),
    _text("second", "code of the second; not read"),
    _text("third", "code of the third; not read"),
    Column(
        "answer",
        "text",
        "code of the odd vial (triangle), of the one chosen (pair); without an answer the row does not count",
        required=True,
        may_be_blank=True,
    ),
    Column("note", "free", "anything"),
)

POURED = (
    *FORMULA[:4],
    Column("poured_g", "number", "what was really poured; blank: nothing yet", least=0, most=LARGEST, unit="g"),
    Column("grams", "number", "what was poured where there is no column poured_g", least=0, most=LARGEST, unit="g"),
)

TABLES: dict[str, tuple[Column, ...]] = {
    "target": TARGET,
    "bottles": BOTTLES,
    "catalogue": CATALOGUE,
    "compositions": COMPOSITIONS,
    "constituents": CONSTITUENTS,
    "limits": LIMITS,
    "formula": FORMULA,
    "declaration": DECLARATION,
    "key": KEY,
    "answers": ANSWERS,
    "poured": POURED,
}
