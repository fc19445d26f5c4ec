"""What to add to a batch, as plain data, text and CSV."""

from __future__ import annotations

import math
from typing import TYPE_CHECKING, Any

from reaccord.answer.formula import formula_rows
from reaccord.answer.judge import Judgement
from reaccord.domain.stock import Stock, StockKey
from reaccord.report.csv_table import Columns, csv_text, strength_cell
from reaccord.report.data import about, grounds, limit_rows
from reaccord.report.layout import Column, aligned, counted, headed, on_the_point, paragraph, paragraphs
from reaccord.report.off_target import got_cell, target_cell
from reaccord.report.quantities import decimals_of, rough_percent, signed
from reaccord.report.verdict import ANOTHER_BATCH, standing
from reaccord.report.weigh import stock_name, stock_rows, stocks_text

if TYPE_CHECKING:
    from reaccord.questions.correct.correction import Correction

ADDITIONS: Columns = {
    "material": str,
    "strength": strength_cell,
    **dict.fromkeys(("carrier", "lot", "grams", "poured_g", "total_g"), str),
}
MOST_ROWS = 8
MOVED = 5e-5
"""Rows that move by less than 0.005 points are not shown."""


def correct_data(found: Correction) -> dict[str, Any]:
    """Return the correction; `before` is the batch left as it is, what is still to come poured as planned."""
    after = found.after
    return {
        **about(found.study),
        "advice": found.advice,
        "planned": {"value": found.planned.closeness.value, "accord_g": found.planned.totals.accord_g},
        "poured": [key._asdict() | {"grams": grams} for key, grams in sorted(found.poured.items())],
        "additions": [key._asdict() | {"grams": grams} for key, grams in _in_order(found)],
        "stocks": stock_rows(found.stocks),
        "before": {"value": found.before.closeness.value, "accord_g": found.before.totals.accord_g},
        "after": {
            "value": after.closeness.value,
            "bound": found.bound,
            "before_rounding": found.value,
            "gap": found.gap,
            "accord_g": after.totals.accord_g,
        },
        "allowed_accord_g": found.allowed_g,
        "whole_accord_g": None if math.isinf(found.whole_g) else found.whole_g,
        "formula": formula_rows(after),
        "residuals": _residuals(found),
        "limits_before": limit_rows(found.before),
        "limits": limit_rows(after),
        **grounds(found.study),
    }


def _in_order(found: Correction) -> list[tuple[StockKey, float]]:
    """Return the additions, the largest first."""
    return sorted(found.added.items(), key=lambda item: (-item[1], item[0]))


def _residuals(found: Correction) -> list[dict[str, Any]]:
    return [
        {
            "constituent": after.row.label,
            "kind": after.kind,
            "target": after.row.share,
            "before": before.achieved,
            "after": after.achieved,
            "residual_before": before.residual,
            "residual_after": after.residual,
        }
        for before, after in zip(found.before.residuals, found.after.residuals, strict=True)
    ]


def correct_csv(found: Correction) -> str:
    """Write every line of the batch: what to add, what is in the vial, what will be; `correct` reads it again."""
    rows = [
        line.stock.key._asdict()
        | {
            "grams": found.added.get(line.stock.key, 0.0),
            "poured_g": found.poured.get(line.stock.key, 0.0),
            "total_g": line.grams,
        }
        for line in found.after.lines
    ]
    return csv_text(ADDITIONS, rows)


def correct_text(found: Correction, width: int) -> str:
    """Return the correction for people: the advice, what to add, what that does."""
    parts = [
        headed(found.study.title, _verdict(found), width),
        *([_still_to_pour(found, width)] if found.advice == "leave" else _what_to_add(found, width)),
        paragraph(_figures(found), width),
    ]
    return "\n\n".join(filter(None, parts)) + "\n"


def _what_to_add(found: Correction, width: int) -> list[str]:
    stocks = stocks_text(found.study, found.stocks, width)
    return [stocks, _additions(found, width), _moved(found, width), paragraphs(_limits(found), width)]


def _still_to_pour(found: Correction, width: int) -> str:
    """Return the lines of the formula that are not in the vial."""
    rows = [
        (stock_name(line.stock.key), f"{line.grams:.{decimals_of(line.stock.step_g)}f}", _lot(line.stock))
        for line in found.planned.lines
        if not found.poured.get(line.stock.key)
    ]
    columns = (Column("Still to pour", wraps=True), Column("g", right=True), Column("lot", wraps=True))
    return aligned(columns, rows, width) if rows else ""


def _verdict(found: Correction) -> str:
    left, after, planned = standing(found.before), standing(found.after), standing(found.planned)
    made, wanted = found.after.totals.accord_g, found.planned.totals.accord_g
    grown = f"; it makes {made:.4g} g of accord instead of {wanted:.4g} g"
    grown = grown if abs(made - wanted) > ANOTHER_BATCH * wanted else ""
    if found.advice == "leave":
        return f"{_left(found)} ({left}; planned {planned}).{_in_vain(found, after)}"
    if found.advice == "correct" and (broken := _broken(found.before)):
        breaks = f"left as it is ({left}) it breaks {broken}"
        return f"correct it: {breaks}; with what is listed every limit holds ({after}; planned {planned}){grown}."
    if found.advice == "correct":
        return f"correct it: {after} instead of {left} (planned: {planned}){grown}.{_whole(found)}"
    return f"start over: at best {after} with what is listed, planned were {planned}{grown}.{_whole(found)}"


def _left(found: Correction) -> str:
    """Say what leaving it means, and where that makes more than it may grow to."""
    doing = "go on as planned" if found.to_come else "leave it"
    made = found.before.totals.accord_g
    if made <= found.allowed_g * (1 + ANOTHER_BATCH):
        return doing
    return f"{doing}, which makes {made:.4g} g of accord, more than the {found.allowed_g:.4g} g of --grow"


def _in_vain(found: Correction, after: str) -> str:
    if not found.added:
        return ""
    farther = found.after.closeness.value > found.before.closeness.value
    best = f"The best {counted(len(found.added), 'addition')} to all of it would"
    return f" {best} {'be farther off' if farther else 'hardly help'} ({after})."


def _whole(found: Correction) -> str:
    """Say from which size on the batch could have the formula's own parts again."""
    if math.isinf(found.whole_g):
        return " What is in it and not in the formula can only be thinned out."
    if found.whole_g <= found.after.totals.accord_g * (1 + MOVED):
        return ""
    return f" The formula's own parts would take {found.whole_g:.4g} g of accord (--grow)."


def _additions(found: Correction, width: int) -> str:
    if not found.added:
        return "Nothing to add."
    stocks = {line.stock.key: line.stock for line in found.after.lines}
    decimals = max(decimals_of(stocks[key].step_g) for key in found.added)
    summed = max(decimals, *map(decimals_of, found.poured.values()))  # what is in the vial is as it was typed
    new = {key for key in found.added if not found.poured.get(key)}
    columns = (
        Column("Add", wraps=True),
        *(Column(heading, right=True) for heading in ("g", "in the vial", "then")),
        Column("lot", wraps=True),
    )
    poured = on_the_point(["" if key in new else f"{found.poured[key]:.6g}" for key, _ in _in_order(found)])
    rows = [
        (
            stock_name(key),
            f"{grams:.{decimals}f}",
            there,
            f"{grams + found.poured.get(key, 0.0):.{summed}f}",
            _lot(stocks[key]),
        )
        for (key, grams), there in zip(_in_order(found), poured, strict=True)
    ]
    total = math.fsum(found.added.values())
    there = math.fsum(found.poured.values())
    rows.append(
        (
            counted(len(found.added), "addition"),
            f"{total:.{decimals}f}",
            f"{there:.{summed}f}",
            f"{total + there:.{summed}f}",
            "",
        )
    )
    return aligned(columns, rows, width)


def _lot(stock: Stock) -> str:
    return "to be made" if stock.recipe else stock.key.lot


def _moved(found: Correction, width: int) -> str:
    """Return the rows that the additions move most."""
    rows = [
        (before, after)
        for before, after in zip(found.before.residuals, found.after.residuals, strict=True)
        if abs(after.achieved - before.achieved) > MOVED and after.kind != "undeclared"
    ]
    rows.sort(key=lambda pair: (-abs(abs(pair[0].scaled) - abs(pair[1].scaled)), pair[0].row.label))
    if not rows:
        return ""
    columns = (
        Column("What moves most", wraps=True),
        *(Column(heading, right=True) for heading in ("target %", "left %", "added %", "points left", "added")),
    )
    cells = [
        (
            after.row.label,
            target_cell(after),
            got_cell(before),
            got_cell(after),
            signed(before.residual * 100, 2),
            signed(after.residual * 100, 2),
        )
        for before, after in rows[:MOST_ROWS]
    ]
    return aligned(columns, cells, width)


def _limits(found: Correction) -> list[str]:
    from reaccord.questions.correct.correction import broken

    held = "Every limit holds with it." if not broken(found.after) else ""
    before = _broken(found.before)
    return [f"{held} Left as it is, the batch breaks {before}." if before else held]


def _broken(judged: Judgement) -> str:
    from reaccord.questions.correct.correction import broken

    return ", ".join(state.label for state in broken(judged))


def _figures(found: Correction) -> str:
    before, after, planned = (j.closeness.value for j in (found.before, found.after, found.planned))
    proven = " (proven)" if found.answer.status == "proven" else f" (within {rough_percent(found.gap)})"
    return (
        f"Deviation {after:.4g} with the additions, at best {found.bound:.4g}{proven} up to {found.allowed_g:.4g} g of "
        f"accord; left as it is {before:.4g}, as planned {planned:.4g}. reaccord help bench"
    )
