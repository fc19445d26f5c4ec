"""Typed cells into the lines of the domain, one function a table."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from typing import Any, Literal

from reaccord.domain.lines import BottleLine, ConstituentLine, DeclarationLine, FormulaLine, LimitLine, Pack, Reported
from reaccord.findings import Findings, Place
from reaccord.names.classes import is_class
from reaccord.tables import columns
from reaccord.tables.dilution import ask_of_name, doubt_dilution
from reaccord.tables.doubts import Doubts
from reaccord.tables.heading_words import WORDS
from reaccord.tables.headings import settle_headings
from reaccord.tables.left_out import without_left_out
from reaccord.tables.raw import RawTable
from reaccord.tables.rows import TypedRow, typed_rows
from reaccord.tables.tokens import say_taken


def _nothing(_: str) -> bool:
    return False


def _is_title(name: str) -> bool:
    """Whether a name that stands alone in a row of bottles is a title: capitals throughout, a class, a colon behind."""
    return name.isupper() or is_class(name) or name.endswith(":")


def _filled(values: dict[str, Any]) -> dict[str, Any]:
    """Drop blanks, so that the defaults of the domain's records hold."""
    return {name: value for name, value in values.items() if value is not None}


def material_names(raw: RawTable) -> tuple[str, ...]:
    """Return what a table of bottles names, before it is read."""
    raw = settle_headings(raw, columns.BOTTLES[:1], WORDS["bottles"], Findings())
    return tuple(row.get("material", "") for _, row in raw.rows)


def bottle_lines(raw: RawTable, findings: Findings, known: Callable[[str], bool] = _nothing) -> tuple[BottleLine, ...]:
    """Return the bottles; a constituent without a purity, or the other way round, is an error.

    `known` tells whether a name is one of something known: its row is never taken for a title.
    """
    return tuple(pack.bottle for pack in _packs(raw, "bottles", findings, known))


def catalogue_lines(raw: RawTable, findings: Findings, known: Callable[[str], bool] = _nothing) -> tuple[Pack, ...]:
    """Return what can be bought, read as bottles are; a pack without a price per kg gives it one."""
    found = []
    for pack in _packs(raw, "catalogue", findings, known):
        line = pack.bottle
        if line.price_per_kg is None and pack.price is not None and not pack.grams:
            findings.error("blank", "blank; how many gram are in the pack?", line.at.at("pack_g"))
        elif line.price_per_kg is None and pack.price is not None and pack.grams:
            line = line._replace(price_per_kg=1000 * pack.price / pack.grams)
        found.append(pack._replace(bottle=line))
    return tuple(found)


def _packs(
    raw: RawTable, table: Literal["bottles", "catalogue"], findings: Findings, known: Callable[[str], bool]
) -> list[Pack]:
    """Return the rows of a table of bottles, each with the pack it says."""
    raw = settle_headings(raw, columns.TABLES[table], WORDS[table], findings)
    raw = without_left_out(raw, "material", findings, known, section=_is_title)
    written = dict(raw.rows)
    lines = []
    pure: list[tuple[Place, str, Reported | None]] = []
    rows = typed_rows(raw, columns.TABLES[table], findings)
    doubts = Doubts(findings)
    for place, values in rows:
        purity: Reported | None = values.pop("purity")
        if purity is not None:
            values |= {"purity": purity.number, "purity_high": purity.high if purity.ranges else None}
            pure.append((place, "purity", purity))
        grams, price = values.pop("pack_g", None), values.pop("pack_price", None)
        line = BottleLine(place, values.pop("material") or "", **_filled(values))
        if line.constituent and line.purity is None and not doubts.row(place):
            findings.error("blank", f"blank; how pure is the {line.constituent} in it?", place.at("purity"))
        if line.purity is not None and not line.constituent:
            findings.error("blank", "a purity without a constituent: purity of what?", place.at("constituent"))
        doubt_dilution(line, written[place.row or 0], findings)
        ask_of_name(line, written[place.row or 0], findings)
        if line.purity is not None and line.purity <= 0.01 and _plain(written[place.row or 0], "purity"):
            text = f"read as {line.purity * 100:g} %: a plain number is percent. If a fraction is meant, write "
            text += f"{line.purity * 1e4:g} %, else write its sign: {line.purity * 100:g} %."
            findings.warn("fraction", text, place.at("purity"))
        if line.material:
            lines.append(Pack(line, grams, price))
    say_taken(pure, findings)
    diluted = [pack.bottle for pack in lines if _plain(written[pack.bottle.at.row or 0], "strength")]
    _all_fractions(diluted, findings)
    return lines


def _plain(row: Mapping[str, str], column: str) -> bool:
    """Whether a share is written without its sign."""
    return row.get(column, "")[-1:].isdigit()


def _all_fractions(diluted: Collection[BottleLine], findings: Findings) -> None:
    """Say so where every strength that is written as a plain number could be a fraction."""
    if diluted and all(line.strength <= 0.01 for line in diluted) and any(line.strength < 0.01 for line in diluted):
        sentence = "read as {:g} %: a plain number is percent. If a fraction is meant, write {:g} %, "
        sentence += "else write its sign"
        doubts = ((x.at.at("strength"), sentence.format(x.strength * 100, x.strength * 1e4)) for x in diluted)
        findings.warn_once("fraction", doubts)


def constituent_lines(raw: RawTable, findings: Findings) -> tuple[ConstituentLine, ...]:
    """Return the study's own constituents."""
    raw = settle_headings(raw, columns.CONSTITUENTS, WORDS["constituents"], findings)
    raw = without_left_out(raw, "constituent", findings, _nothing, section=str.isupper)
    lines = []
    for place, values in typed_rows(raw, columns.CONSTITUENTS, findings):
        name = values.pop("constituent")
        if name:
            lines.append(ConstituentLine(place, name, **_filled(values)))
    return tuple(lines)


def declaration_lines(raw: RawTable, findings: Findings) -> tuple[DeclarationLine, ...]:
    """Return what a label must name."""
    raw = settle_headings(raw, columns.DECLARATION, {}, findings)
    lines = []
    for place, values in typed_rows(raw, columns.DECLARATION, findings):
        filled = _filled(values)
        name, kind = filled.pop("label_name", ""), filled.pop("kind", None)
        if name and kind:
            lines.append(DeclarationLine(place, name, kind, **filled))
    return tuple(lines)


EACH_OR_SUM = (
    "has several members and no kind: each or sum? Write each if every one of them may be so much, sum if all of them "
    "together may."
)


def limit_lines(raw: RawTable, findings: Findings) -> tuple[LimitLine, ...]:
    """Return the restricted substances; a blank max is 0 and allowed for prohibited only."""
    raw = settle_headings(raw, columns.LIMITS, WORDS["limits"], findings)
    raw = without_left_out(raw, "rule", findings, _nothing)
    written = dict(raw.rows)
    lines = []
    rows = typed_rows(raw, columns.LIMITS, findings)
    doubts = Doubts(findings)
    for place, values in rows:
        most = values.pop("max")
        filled = _filled(values)
        line = LimitLine(
            place,
            filled.pop("rule", ""),
            filled.pop("members", ()),
            filled.pop("product", ""),
            most,
            **filled,
        )
        no_max = most is None and not doubts.row(place) and not written[place.row or 0].get("max")
        if no_max and line.only_condition and not line.condition:
            findings.error("blank", "blank; how much may be in the finished product?", place.at("max"))
        if most == 0 and line.kind == "ratio":
            findings.error("out-of-range", "a ratio cannot divide by 0.", place.at("max"))
        several = len(line.members) > 1 and line.rule
        asked = several and not (line.condition and line.only_condition)
        if asked and not written[place.row or 0].get("kind") and not doubts.row(place):
            findings.error("which-kind", f'"{line.rule}" {EACH_OR_SUM}', place.at("kind"))
        if line.rule and line.members:
            lines.append(line)
    return tuple(lines)


ON_THE_SHEET = (
    "running_g",
    "display_g",
    "parts_per_thousand",
    "tolerance_g",
    "poured_g",
    "total_g",
    "share",
    "cost",
    "order",
)
"""Columns of the sheet for the bench that no formula needs."""


def formula_lines(raw: RawTable, findings: Findings) -> tuple[FormulaLine, ...]:
    """Return the lines of a formula."""
    raw = settle_headings(raw, columns.FORMULA, WORDS["formula"], findings)
    raw = without_left_out(raw, "material", findings, _nothing, section=_is_title)
    lines = []
    for place, values in typed_rows(raw, columns.FORMULA, findings, passed_over=ON_THE_SHEET):
        del values["share"], values["cost"]
        lines.append((place, values))
    return _formula(raw, lines, findings)


def poured_lines(raw: RawTable, findings: Findings) -> tuple[FormulaLine, ...]:
    """Return what was poured: a sheet for the bench with its column `poured_g` filled in, or a formula's `grams`."""
    raw = settle_headings(raw, columns.POURED, WORDS["poured"], findings)
    raw = without_left_out(raw, "material", findings, _nothing, section=_is_title)
    filled = next((name for name in ("poured_g", "grams") if name in raw.headings), None)
    if filled is None:
        findings.error("missing-column", 'the column "poured_g" is missing.', raw.heading("poured_g"))
    lines = []
    for place, values in typed_rows(raw, columns.POURED, findings, passed_over=ON_THE_SHEET):
        grams = {name: values.pop(name) for name in ("poured_g", "grams")}
        planned = grams["grams"] if filled == "poured_g" else None
        if filled is not None and (grams[filled] is not None or planned is not None):
            lines.append((place, values | {"grams": grams[filled] or 0.0, "planned_g": planned}))
    return _formula(raw, lines, findings)


def _formula(raw: RawTable, rows: Iterable[TypedRow], findings: Findings) -> tuple[FormulaLine, ...]:
    written = dict(raw.rows)
    lines = []
    for place, values in rows:
        material, grams = values.pop("material") or "", values.pop("grams") or 0.0
        line = FormulaLine(place, material, grams, **_filled(values))
        doubt_dilution(line, written[place.row or 0], findings)
        if material:
            lines.append(line)
    return tuple(lines)
