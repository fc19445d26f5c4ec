"""A revised formula as plain data and as text."""

from __future__ import annotations

from typing import Any

from reaccord.contract import gap_of
from reaccord.questions.revise import Move, Revised
from reaccord.report.data import judgement_data
from reaccord.report.layout import Column, aligned, counted, headed, paragraph
from reaccord.report.notes import notes, with_notes
from reaccord.report.quantities import decimals_of_balance, percent, rough_percent
from reaccord.report.terminal import body, ended, rules
from reaccord.report.verdict import BARELY, FIGURES, measured, standing
from reaccord.study.bottles import MADE


def revise_data(found: Revised) -> dict[str, Any]:
    """Return `revise`'s data; gains are of the deviation before rounding."""
    data = judgement_data(found.study, found.judged, found.reasons)
    data["deviation"] |= {
        "before_rounding": found.value,
        "bound": found.bound,
        "gap": gap_of(found.value, found.bound),
        "in_use": None if found.before is None else found.before.closeness.value,
    }
    return data | {"moves": [_move(move) for move in found.moves] + _lost(found), "moved": found.moved}


def _move(move: Move) -> dict[str, Any]:
    key = move.key._asdict()
    return {
        **key,
        "from_g": move.from_g,
        "to_g": move.to_g,
        "gain": move.gain,
        "needed": move.needed,
        "batch_g": move.batch_g,
    }


def _lost(found: Revised) -> list[dict[str, Any]]:
    """Return the lines of materials that no bottle holds any more."""
    return [
        {
            "material": line.material,
            "strength": line.strength or 1.0,
            "carrier": line.carrier,
            "lot": line.lot,
            "from_g": line.grams,
            "to_g": 0.0,
            "gain": None,
            "needed": True,
            "batch_g": None,
        }
        for line in found.lost
    ]


def revise_text(found: Revised, width: int) -> str:
    """Return the answer of `revise` for people: the verdict, the moves, the formula."""
    verdict = with_notes(_verdict(found), notes(found.study, found.judged))
    parts = [
        headed(found.study.title, verdict, width),
        _moves(found, width),
        *body(found.study, found.judged, found.reasons, width),
        *rules(found.study, width),
    ]
    return ended(parts, _proof(found), width)


def _verdict(found: Revised) -> str:
    before = "" if found.before is None else f", in use {standing(found.before)}"
    gap = gap_of(found.value, found.bound)
    if found.status == "proven":
        sure = "nothing closer is" if gap <= BARELY else f"nothing more than {rough_percent(gap)} closer is"
    else:
        sure = f"closest so far: nothing more than {rough_percent(gap)} closer is"
    return f"{standing(found.judged)}{before}; {sure} so near."


def _moves(found: Revised, width: int) -> str:
    rows = revise_data_moves(found)
    if not rows:
        return "Nothing has to change, and nothing would make it closer."
    columns = (
        Column("Change", wraps=True),
        Column("from g", right=True),
        Column("to g", right=True),
        Column("without this change", wraps=True),
    )
    decimals = decimals_of_balance(found.study)
    cells = [
        (
            _label(row),
            f"{row['from_g']:.{decimals}f}" if row["from_g"] else "",
            f"{row['to_g']:.{decimals}f}" if row["to_g"] else "",
            _buys(found, row),
        )
        for row in rows
    ]
    said = f"{counted(len(rows), 'line')} changed, {percent(found.moved, 1)} of the neat mass moved."
    return f"{aligned(columns, cells, width)}\n{paragraph(said, width)}"


def revise_data_moves(found: Revised) -> list[dict[str, Any]]:
    """Return every line that changes, those that must first."""
    return [*_lost(found), *map(_move, found.moves)]


def _label(row: dict[str, Any]) -> str:
    lot = f" ({'to be made' if row['lot'] == MADE else row['lot']})" if row["lot"] else ""
    strength = f", {row['strength'] * 100:.6g} % in {row['carrier']}" if row["strength"] < 1 else ""
    return f"{row['material']}{strength}{lot}"


def _buys(found: Revised, row: dict[str, Any]) -> str:
    """Say what it would be without a change, the others poured anew."""
    if row["batch_g"] is not None:
        return f"another batch: {row['batch_g']:.4g} g instead of {found.study.settings.batch.accord_g:.4g} g"
    if row["needed"] and all(row["material"] != stock.key.material for stock in found.study.stocks):
        return "it is gone"
    if row["needed"]:
        return "no formula"
    if row["gain"] is None:
        return "not known"
    if found.value <= 0:
        return f"deviation {row['gain']:.{FIGURES}g}"
    return f"{rough_percent(row['gain'] / found.value)} farther off"


def _proof(found: Revised) -> str:
    proven = " (proven)" if found.status == "proven" else ""
    before = "" if found.before is None else f", in use {found.before.closeness.value:.{FIGURES}g}"
    value = found.judged.closeness.value
    return f"{measured(found.study)} {value:.{FIGURES}g}{before}, at best {found.bound:.{FIGURES}g}{proven}."
