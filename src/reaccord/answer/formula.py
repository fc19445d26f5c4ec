"""Lines of a formula table matched to the stocks of a study, and the lines of a formula as plain data."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from typing import Any

from reaccord.answer.judge import Judgement
from reaccord.domain.lines import FormulaLine
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.findings import Findings
from reaccord.names.key import did_you_mean, name_key, nearest
from reaccord.study.dilutions import ask_strength
from reaccord.tables.doubts import doubtful_cell


def formula_rows(judged: Judgement) -> list[dict[str, Any]]:
    """Return the lines of a formula."""
    return [
        {
            "material": line.stock.key.material,
            "strength": line.stock.key.strength,
            "carrier": line.stock.key.carrier,
            "lot": line.stock.key.lot,
            "grams": line.grams,
            "share": line.share,
            "cost": line.cost,
        }
        for line in judged.lines
    ]


def by_material(judged: Judgement) -> dict[str, tuple[float, float]]:
    """Return gram of neat material and cost of each material."""
    found: dict[str, tuple[float, float]] = {}
    for line in judged.lines:
        grams, cost = found.get(line.stock.key.material, (0.0, 0.0))
        neat = line.grams * line.stock.key.strength
        found[line.stock.key.material] = grams + neat, cost + (line.cost or 0.0)
    return found


def match_formula(
    study: Study,
    lines: Iterable[FormulaLine],
    findings: Findings,
    planned: Collection[StockKey] | None = None,
) -> dict[StockKey, float]:
    """Return gram by stock; a line that fits no stock, or several, is an error finding.

    A blank lot fits if only one stock has that material, strength and carrier. Of what is in the vial (`planned`, what
    was to be poured) a line that leaves more blank is the one planned, or of the only bottle.
    """
    stocks = study.every_stock
    amounts: dict[StockKey, float] = {}
    rows: dict[StockKey, int | None] = {}
    for line in lines:
        stock = None if planned is None else _meant(stocks, line, planned)
        stock = stock or _stock(stocks, line, _names_of(study, line.carrier), findings)
        if stock is None:
            continue
        if stock.key in amounts:
            findings.error(
                "duplicate-row",
                f"{stock.label} stands in row {rows[stock.key]} already.",
                line.at.at("material"),
            )
        amounts[stock.key] = line.grams
        rows[stock.key] = line.at.row
    return amounts


def _meant(stocks: Sequence[Stock], line: FormulaLine, planned: Collection[StockKey]) -> Stock | None:
    """Return the only stock planned, else the only bottle, that a line can be of; None where neat may be meant."""
    same = [
        s
        for s in stocks
        if name_key(s.key.material) == name_key(line.material)
        and line.strength in {None, s.key.strength}
        and (not line.carrier or name_key(s.key.carrier) == name_key(line.carrier))
        and (not line.lot or s.key.lot == line.lot)
    ]
    if line.strength is None and any(s.key.strength == 1 for s in same):
        return None
    meant = [s for s in same if s.key in planned] or [s for s in same if s.recipe is None]
    return meant[0] if len(meant) == 1 else None


def _names_of(study: Study, text: str) -> frozenset[str]:
    """Return every name, as keys, of the constituent that goes by `text`; `text` itself if none does."""
    key = name_key(text)
    for known in study.constituents.values():
        names = frozenset(name_key(name) for name in (known.name, known.cas, *known.synonyms) if name)
        if key in names:
            return names
    return frozenset({key})


def _stock(stocks: Sequence[Stock], line: FormulaLine, carriers: frozenset[str], findings: Findings) -> Stock | None:
    same = [s for s in stocks if name_key(s.key.material) == name_key(line.material)]
    if not same:
        hint = nearest(line.material, {s.key.material for s in stocks})
        findings.error(
            "unknown-material",
            f'no bottle is called "{line.material}".' + did_you_mean(hint),
            line.at.at("material"),
        )
        return None
    bottles = [(s.key.strength, s.key.carrier) for s in same if s.recipe is None]
    asked = line.strength is None and ask_strength(line.material, bottles, "add its bottle", line.at, findings)
    return None if asked else _strong(same, line, carriers, findings)


def _strong(same: list[Stock], line: FormulaLine, carriers: frozenset[str], findings: Findings) -> Stock | None:
    """Return the stock of a material that a line's strength, carrier and lot name."""
    strength = 1.0 if line.strength is None else line.strength
    strong = [s for s in same if s.key.strength == strength]
    if not strong:
        there = ", ".join(f"{x * 100:g} %" for x in sorted({s.key.strength for s in same}, reverse=True))
        findings.error(
            "unknown-strength",
            f"there is no {line.material} of {strength * 100:g} %. There is: {there}.",
            line.at.at("strength"),
        )
        return None
    carried = [s for s in strong if name_key(s.key.carrier) in carriers]
    if not carried:
        there = ", ".join(sorted({s.key.carrier or "none" for s in strong}))
        text = f'there is no such dilution in "{line.carrier}". There is: {there}.'
        if not doubtful_cell(findings, line.at.at("carrier")):  # else it is asked for already
            findings.error("unknown-carrier", text, line.at.at("carrier"))
        return None
    return _of_lot(carried, line, findings)


def _of_lot(carried: list[Stock], line: FormulaLine, findings: Findings) -> Stock | None:
    exact = [s for s in carried if s.key.lot == line.lot]
    if exact:
        return exact[0]
    if not line.lot and len(carried) == 1:
        return carried[0]
    there = ", ".join(sorted(s.key.lot or "blank" for s in carried))
    findings.error("unknown-lot", f'which lot? "{line.lot}" is none of: {there}.', line.at.at("lot"))
    return None
