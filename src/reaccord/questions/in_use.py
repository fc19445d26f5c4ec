"""A formula in use, read against a study that is not what it was when the formula was made."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass

from reaccord.answer.formula import match_formula
from reaccord.domain.lines import FormulaLine
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean, name_key, nearest


@dataclass(frozen=True)
class Formula:
    """Gram by stock of the study, set aside or not; `lost` are lines of materials of which no bottle is left at all.

    `without` are the materials of the study that must not be poured any more.
    """

    amounts: Mapping[StockKey, float]
    lost: tuple[FormulaLine, ...] = ()
    without: tuple[str, ...] = ()


def formula_in_use(
    study: Study, lines: Sequence[FormulaLine], without: Iterable[str], place: Place, findings: Findings
) -> Formula:
    """Return the formula of these lines.

    A lot that is no longer there stands for the only one that is, which is said. A material to do without may be of no
    bottle, if the formula pours it; `place` is where that is asked.
    """
    shelf = {name_key(bottle.key.material): bottle.key.material for bottle in study.settled.bottles}
    poured = {name_key(line.material): line.material for line in lines}
    asked = {name_key(text): text for text in without}
    for key, text in asked.items():
        if key not in shelf and key not in poured:
            hint = nearest(text, [*shelf.values(), *poured.values()])
            findings.error("unknown-material", f'no bottle is called "{text}".' + did_you_mean(hint), place)
    lost = tuple(line for line in lines if name_key(line.material) in asked.keys() - shelf.keys() and line.grams > 0)
    there = [
        _of_a_lot_there(study, line, findings)
        for line in lines
        if name_key(line.material) not in asked.keys() - shelf.keys()
    ]
    amounts = match_formula(study, there, findings)
    return Formula({k: g for k, g in amounts.items() if g > 0}, lost, tuple(shelf[k] for k in asked if k in shelf))


def _of_a_lot_there(study: Study, line: FormulaLine, findings: Findings) -> FormulaLine:
    """Return a line of the only lot there is, where its own is gone."""
    stocks = study.every_stock
    same = [
        stock
        for stock in stocks
        if name_key(stock.key.material) == name_key(line.material) and stock.key.strength == (line.strength or 1.0)
    ]
    if not line.lot or len(same) != 1 or same[0].key.lot == line.lot:
        return line
    lot = same[0].key.lot
    now = f"lot {lot} is" if lot else "the bottle without a lot is"
    text = f"lot {line.lot} of {same[0].key.material} is not there any more; {now} taken in its place."
    findings.warn("other-lot", text, line.at.at("lot"))
    return line._replace(lot=lot)
