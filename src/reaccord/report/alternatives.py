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
from reaccord.report.verdict import BARELY, FIGURES, from_bottles, measured, standing

MOST_RANGES = 40


def alternatives_data(found: Alternatives) -> dict[str, Any]:
    """Return `alternatives`' data; the first formula is the closest."""
    closest, moved = found.closest, found.differing.moved
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
            "moved": list(one.moved),
            "formula": formula_rows(one.judged),
        }
        for one in found.formulas
    ]
    return {
        **about(found.study),
        "within": found.within,
        "bottles": found.differing.bottles,
        "moved": None if moved is None else moved.share,
        "moved_g": None if moved is None else moved.gram,
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
    if not number:
        others = f"no formula {near} was found that {_differing(found, 'its')}"
    elif number == 1:
        others = f"1 other formula is {near} and {_differing(found, 'its')}"
    else:
        others = f"{number} other formulas are {near}, and each {_differing(found, 'every one before it')}"
    return f"the closest is {standing(found.closest.judged)}; {others}."


def _differing(found: Alternatives, whose: str) -> str:
    """Say what makes a formula another one, of `whose` bottles and neat mass."""
    differing, said = found.differing, []
    if differing.bottles:
        one = "one" if whose == "its" else "1 bottle"
        many = str(differing.bottles) if whose == "its" else counted(differing.bottles, "bottle")
        kind = "of its bottles" if whose == "its" else f"of {whose}"
        said.append(f"does without {one if differing.bottles == 1 else many} {kind}")
    if differing.moved is not None:
        much = f"{differing.moved.gram:g} g" if differing.moved.share is None else rough_percent(differing.moved.share)
        said.append(f"moves {much} of {'its mass' if whose == 'its' else f'the mass of {whose}'}")
    return " and ".join(said)


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
        ("moved, %", "-", *(f"{100 * min(one.moved):.1f}" for one in found.formulas)),
    ]
    if any(one.status != "proven" for one in found.formulas):
        bounds = (found.closest.bound, *(one.bound for one in found.formulas))
        rows.append(("deviation at best", *(f"{bound:.{FIGURES}g}" for bound in bounds)))
    return aligned(columns, rows, width)


def _cost(judged: Judgement) -> str:
    cost = judged.totals.cost_per_kg
    return "?" if cost is None else f"{cost:.2f}"


def _notes(found: Alternatives) -> list[str]:
    lines = ["Moved: half of the mass without carrier that goes out and comes in, from the nearest formula before it."]
    lines = lines if found.formulas else []
    if found.complete:
        lines.append(f"No other formula {from_bottles(found.study)} so near {_differing(found, 'each of these')}.")
    elif found.status != "proven":
        lines.append(
            "Not everything was decided: a closer one of these kinds may exist. --seconds lets it search longer."
        )
    over = [n for n, one in enumerate(found.formulas, start=1) if one.judged.closeness.value > found.within]
    if over:
        which = ", ".join(f"other {n}" for n in over)
        lines.append(f"Rounding pushed {which} over the deviation asked for.")
    return [*lines, *_order(found)]


def _order(found: Alternatives) -> list[str]:
    """Say why one may be a little nearer than one before it."""
    weighed = [found.closest.judged.closeness.value, *(one.judged.closeness.value for one in found.formulas)]
    before = [found.closest.judged_before.closeness.value, *(one.value for one in found.formulas)]
    if before != sorted(before) and found.status == "proven":
        near = f"within {rough_percent(found.gap)}" if found.gap > BARELY else "all but"
        return [f"Each is {near} the closest of its kind: one may be a little nearer than one before it."]
    if before == sorted(before) and weighed != sorted(weighed):
        return ["Rounding to the balance changed their order a little."]
    return []


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
