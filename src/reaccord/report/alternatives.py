"""Formulas nearly as close as plain data, CSV and text."""

from __future__ import annotations

from typing import Any

from reaccord.answer.formula import by_material, formula_rows
from reaccord.answer.judge import Judgement
from reaccord.questions.alternatives import Alternatives
from reaccord.report.csv_table import FORMULA, csv_text
from reaccord.report.data import about, grounds
from reaccord.report.layout import Column, aligned, counted, headed, paragraphs
from reaccord.report.quantities import decimals_of_balance, rough_percent
from reaccord.report.terminal import ended, rules
from reaccord.report.verdict import FIGURES, from_bottles, measured, standing

MOST_RANGES = 40


def alternatives_data(found: Alternatives) -> dict[str, Any]:
    """Return `alternatives`' data; the first formula is the closest."""
    closest = found.closest
    first = {
        "value": closest.judged.closeness.value,
        "misplaced_share": closest.judged.closeness.misplaced_share,
        "before_rounding": closest.judged_before.closeness.value,
        "bound": closest.bound,
        "status": closest.answer.status,
        "formula": formula_rows(closest.judged),
    }
    others = [
        {
            "value": one.judged.closeness.value,
            "misplaced_share": one.judged.closeness.misplaced_share,
            "before_rounding": one.value,
            "bound": one.bound,
            "status": one.status,
            "formula": formula_rows(one.judged),
        }
        for one in found.formulas
    ]
    return {
        **about(found.study),
        "within": found.within,
        "bottles": found.dropped,
        "formulas": [first, *others],
        "complete": found.complete,
        "ranges": [vars(one).copy() for one in found.ranges],
        **grounds(found.study),
    }


def alternatives_csv(found: Alternatives) -> str:
    """Return the formulas below each other, numbered."""
    rows = [
        {"formula": number, **row}
        for number, one in enumerate(alternatives_data(found)["formulas"])
        for row in one["formula"]
    ]
    return csv_text({"formula": str, **FORMULA}, rows)


def alternatives_text(found: Alternatives, width: int) -> str:
    """Return the answer of `alternatives` for people: the verdict, the formulas side by side, the ranges."""
    parts = [
        headed(found.study.title, _verdict(found), width),
        _side_by_side(found, width),
        paragraphs(_notes(found), width),
        _ranges(found, width),
        *rules(found.study, width),
    ]
    value = found.closest.judged.closeness.value
    last = f"{measured(found.study)} {value:.{FIGURES}g}, of the others at most {found.within:.{FIGURES}g}."
    return ended(parts, last, width)


def _verdict(found: Alternatives) -> str:
    number = len(found.formulas)
    above = found.within / found.closest.judged.closeness.value - 1 if found.closest.judged.closeness.value > 0 else 0.0
    near = f"no more than {rough_percent(max(above, 1e-6))} farther off"
    gone = f"{found.dropped} of its bottles" if found.dropped > 1 else "one of its bottles"
    if not number:
        others = f"no formula {near} was found that does without {gone}"
    elif number == 1:
        others = f"1 other formula is {near} and does without {gone}"
    else:
        gone = f"{counted(found.dropped, 'bottle')} of every one before it"
        others = f"{number} other formulas are {near}, each without {gone}"
    return f"the closest is {standing(found.closest.judged)}; {others}."


def _side_by_side(found: Alternatives, width: int) -> str:
    judged = [found.closest.judged, *(one.judged for one in found.formulas)]
    grams = [by_material(one) for one in judged]
    materials = sorted(set().union(*grams))
    decimals = decimals_of_balance(found.study)
    columns = (
        Column("g of neat material", wraps=True),
        *(Column("closest" if number == 0 else f"other {number}", right=True) for number in range(len(judged))),
    )
    rows = [(name, *(f"{one[name][0]:.{decimals}f}" if name in one else "-" for one in grams)) for name in materials]
    rows += [
        ("lines", *(str(len(one.lines)) for one in judged)),
        ("wrong %", *(f"{100 * one.closeness.misplaced_share:.1f}" for one in judged)),
        ("deviation", *(f"{one.closeness.value:.{FIGURES}g}" for one in judged)),
        ("cost per kg of accord", *(_cost(one) for one in judged)),
    ]
    return aligned(columns, rows, width)


def _cost(judged: Judgement) -> str:
    cost = judged.totals.cost_per_kg
    return "?" if cost is None else f"{cost:.2f}"


def _notes(found: Alternatives) -> list[str]:
    lines = []
    if found.complete:
        bottles = f"{counted(found.dropped, 'bottle')} of each of these"
        lines.append(f"No other formula {from_bottles(found.study)} so near does without {bottles}.")
    elif any(one.status != "proven" for one in found.formulas) or found.status != "proven":
        lines.append("Not everything was decided in the time given: a closer one of these kinds may exist.")
    over = [n for n, one in enumerate(found.formulas, start=1) if one.judged.closeness.value > found.within]
    if over:
        which = ", ".join(f"other {n}" for n in over)
        lines.append(f"Rounding pushed {which} over the deviation asked for.")
    return lines


def _ranges(found: Alternatives, width: int) -> str:
    if not found.ranges:
        return ""
    decimals = decimals_of_balance(found.study)
    columns = (
        Column("Any formula so near has", wraps=True),
        Column("at least g", right=True),
        Column("at most g", right=True),
        Column("", wraps=True),
    )
    rows = [
        (
            one.material,
            f"{one.least_g:.{decimals}f}" if one.least_g > 0 else "none",
            f"{one.most_g:.{decimals}f}",
            ""
            if one.proven
            else f"proven only from {one.least_bound_g:.{decimals}f} to {one.most_bound_g:.{decimals}f}",
        )
        for one in found.ranges[:MOST_RANGES]
    ]
    said = "Gram of neat material before rounding, both ends found and proven to 1 %."
    left = len(found.ranges) - len(rows)
    more = [f"{counted(left, 'more material')} in the JSON."] if left else []
    return f"{aligned(columns, rows, width)}\n{paragraphs([said, *more], width)}"
