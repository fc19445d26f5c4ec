"""A series of vials as plain data, text and CSV."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reaccord.answer.formula import formula_rows
from reaccord.questions.overdose.refit import WORTH_NAMING
from reaccord.report.csv_table import Columns, csv_text, formula_csv, strength_cell
from reaccord.report.data import about, cautions, grounds, limit_rows
from reaccord.report.layout import Column, aligned, counted, headed, on_the_point, paragraph, paragraphs
from reaccord.report.quantities import decimals_for, decimals_of_balance, percent
from reaccord.report.verdict import standing
from reaccord.report.weigh import stock_rows, stocks_text

if TYPE_CHECKING:
    from reaccord.questions.overdose.series import Series, Step

COLUMNS: Columns = {
    **dict.fromkeys(("code", "of"), str),
    "times": "{:g}".format,
    "times_reached": "{:.6g}".format,
    "base_g": str,
    **{"spike_material": str, "spike_strength": strength_cell, "spike_carrier": str, "spike_lot": str, "spike_g": str},
    **dict.fromkeys(("vial_g", "solvent_g", "refused"), str),
}
MOST_BROUGHT, MOST_ROWS, MOST_VIALS = 3, 10, 8
STILL = 5e-5
"""Rows that move by less than 0.005 points are not shown."""


def overdose_data(series: Series, written: Sequence[str] = ()) -> dict[str, Any]:
    """Return the series: shares are fractions of the basis, except `concentration` (carrier-free).

    `written` are the files of its vials.
    """
    study = series.study
    return {
        **about(study),
        "mode": series.mode,
        "base": formula_rows(series.base),
        "base_needed_g": series.base_needed_g,
        "base_solvent_g": series.base_solvent_g,
        "batches": series.batches,
        "concentration": series.concentration,
        "solvent": series.solvent,
        "steps": [_step(series, step) for step in series.steps],
        "stocks": stock_rows(series.stocks),
        "vials": list(written),
        **grounds(study),
    }


def _step(series: Series, step: Step) -> dict[str, Any]:
    spiked = [] if step.stock is None else [{**step.stock.key._asdict(), "grams": step.spike_g}]
    found = {
        "code": step.code or None,
        "of": step.of,
        "times": step.times,
        "times_reached": step.times_reached if step.judged else None,
        "half_step": step.half_step,
        "vial_g": step.vial_g,
        "base_g": step.base_g,
        "spike": spiked,
        "smallest_vial_g": step.smallest_vial_g,
        "brought": dict(step.brought or {}),
        "solvent_g": step.solvent_g,
        "achieved": _achieved(step),
        "limits": limit_rows(step.judged) if step.judged else [],
        "held": step.held or None,
        "refused": step.refused,
    }
    if series.mode == "refit":
        found["formula"] = formula_rows(step.judged) if step.judged else []
    return found


def _achieved(step: Step) -> dict[str, float]:
    """Return what is in the vial: every row that is there, in the order of the target."""
    if step.judged is None:
        return {}
    return {r.row.label: r.achieved for r in step.judged.residuals if r.achieved > 0}


def vial_files(series: Series) -> list[tuple[str, str]]:
    """Return name and content of the base and each vial solved again, as formulas; a vial is called by its code."""
    made = [("base", series.base), *((step.code, step.judged) for step in _made(series) if step.judged)]
    return [(f"{name}.csv", formula_csv(formula_rows(judged))) for name, judged in made]


def overdose_csv(series: Series) -> str:
    """Write one row a vial; a strength of 100 % is left blank."""
    return csv_text(COLUMNS, map(_csv_row, series.steps))


def _csv_row(step: Step) -> dict[str, Any]:
    key = step.stock.key if step.stock else None
    return {
        **{name: getattr(step, name) for name in COLUMNS if not name.startswith("spike_")},
        "times_reached": step.times_reached if step.judged else None,
        **{f"spike_{name}": getattr(key, name, None) for name in ("material", "strength", "carrier", "lot")},
        "spike_g": step.spike_g if key else None,
    }


def overdose_text(series: Series, width: int, written: Sequence[str] = ()) -> str:
    """Return the series for people: what to do, the vials, what came along, why a step is not made."""
    parts = [headed(series.study.title, _head(series), width)]
    parts += [_vials(series, width), _composition(series, width)]
    notes = [*_brought(series), *_missed(series), *_refused(series), *_least_vial(series)]
    if notes:
        parts.append(paragraphs(notes, width, "  "))
    parts.append(stocks_text(series.study, series.stocks, width))
    if series.mode == "refit":
        parts += [_formula(step, decimals_of_balance(series.study), width) for step in _made(series)]
        parts += [paragraph(_onward(written), width)] if _made(series) else []
    parts += [paragraphs(_limits(series), width)] if series.study.rules else []
    return "\n\n".join(part for part in parts if part) + "\n"


def _constituents(series: Series) -> tuple[str, ...]:
    return tuple(dict.fromkeys(step.of for step in series.steps))


def _head(series: Series) -> str:
    good = sum(not step.refused for step in series.steps)
    what = _constituents(series)
    of = f" of {what[0]}" if len(what) == 1 else ""
    if not good:
        return f"none of {counted(len(series.steps), 'vial')}{of} can be made."
    made = f"{good} of {counted(len(series.steps), 'vial')}{of} can be made"
    if series.mode == "refit":
        again = "each is a batch of its own, solved again with the target's row multiplied"
        return f"{made}; {again} (reached: times that row as stated)."
    total = series.base.totals.total_g
    batch = f"one batch of {total:.4g} g" if series.batches <= 1 else f"{series.batches} batches of {total:.4g} g"
    base = f"one base ({standing(series.base)})"
    return f"{made} from {series.base_needed_g:.4g} g of {base}, made once ({batch}) and split."


def _vials(series: Series, width: int) -> str:
    several = len(_constituents(series)) > 1
    columns = (
        Column("Vial", right=True),
        *((Column("constituent", wraps=True),) if several else ()),
        Column("times", right=True),
        Column("share", right=True),
        *(
            (Column("base g", right=True), Column("spike g", right=True), Column("of", wraps=True))
            if _spikes(series)
            else ()
        ),
        Column("reached", right=True),
        Column(f"{series.solvent} g" if len(series.solvent) < 12 else "carrier g", right=True),
    )
    decimals = decimals_of_balance(series.study)
    least = min((step.share for step in _made(series) if step.share > 0), default=0.01)
    places = min(decimals_for(least * 100, 3), 6)
    times = on_the_point([f"{step.times:g}" for step in series.steps])
    rows = []
    if not _spikes(series) and series.concentration:
        blank = ("",) * (len(columns) - 2)
        rows.append(("base", *blank, f"{series.base_solvent_g:.{decimals}f}"))
    for step, multiple in zip(series.steps, times, strict=True):
        good = not step.refused
        spiked = (
            f"{step.base_g:.{decimals}f}" if good else "",
            f"{step.spike_g:.{decimals}f}" if step.stock and good else "",
            step.stock.label if step.stock and good else "",
        )
        rows.append(
            (
                step.code or "none",
                *((step.of,) if several else ()),
                multiple,
                percent(step.share, places) if good else "",
                *(spiked if _spikes(series) else ()),
                f"{step.times_reached:.4f}" if good else "refused",
                f"{step.solvent_g:.{decimals}f}" if good else "",
            )
        )
    table = aligned(columns, rows, width)
    return f"{table}\n{paragraph(_strength(series), width)}" if series.concentration else table


def _spikes(series: Series) -> bool:
    return series.mode == "spike"


def _made(series: Series) -> list[Step]:
    return [step for step in series.steps if step.judged and not step.refused]


def _composition(series: Series, width: int) -> str:
    """Return the predicted shares of the rows that move most, the base and a vial a column."""
    made = _made(series)[:MOST_VIALS]
    base = {r.row.label: r.achieved for r in series.base.residuals}
    vials = [_achieved(step) for step in made]
    moved = {label: max(abs(vial.get(label, 0.0) - base[label]) for vial in vials) for label in base} if vials else {}
    labels = [label for label in sorted(moved, key=lambda label: (-moved[label], label)) if moved[label] > STILL]
    if not labels:
        return ""
    columns = (
        Column("Predicted, % of the accord", wraps=True),
        Column("base", right=True),
        *(Column(step.code, right=True) for step in made),
    )
    shown = labels[:MOST_ROWS]
    cells = [(label, *(f"{vial.get(label, 0.0) * 100:.2f}" for vial in (base, *vials))) for label in shown]
    more = f"{counted(len(base) - len(shown), 'more row')} move less" if len(base) > len(shown) else "No other rows"
    more += f"; {counted(len(_made(series)) - len(made), 'more vial')}" if len(_made(series)) > len(made) else ""
    return f"{aligned(columns, cells, width)}\n{paragraph(more + '. --output json has all of each vial.', width)}"


def _strength(series: Series) -> str:
    share = percent(series.concentration or 0.0, 2)
    added = series.base_solvent_g > 0 or any(step.solvent_g > 0 for step in series.steps)
    with_it = f"with the grams of {series.solvent} in the last column, " if added else ""
    return f"Equal strength: {with_it}every vial is {share} without its carrier (carrier already inside counted)."


def _named(step: Step) -> str:
    return f"{step.of} at {step.times:g} times" if step.times else f"without {step.of}"


def _brought(series: Series) -> list[str]:
    found = []
    for of in _constituents(series):
        spiked = [step for step in series.steps if step.of == of and step.brought and not step.refused]
        if not spiked:
            continue
        most = spiked[-1]
        brought = most.brought or {}
        more = {name: grams for name, grams in brought.items() if grams > 0}
        if _spikes(series):
            found.append(f"Comes along with {of} at {most.times:g} times: {_grams(more)}.")
            continue
        step = f"With {of} at {most.times:g} times" if most.times else f"Without {of}"
        less = {name: -grams for name, grams in brought.items() if grams < 0}
        said = [f"{word} of {_grams(each)}" for word, each in (("less", less), ("more", more)) if each]
        found.append(f"{step} there is, against the base's ratios, {'; '.join(said)}.")
        if not most.times and less:
            found.append(f"What the nose misses in it may be any of these, not {of} alone.")
    return found


def _grams(listed: Mapping[str, float]) -> str:
    words = ", ".join(f"{name} ({grams:.2g} g)" for name, grams in list(listed.items())[:MOST_BROUGHT])
    return words + (f" and {counted(len(listed) - MOST_BROUGHT, 'more thing')}" if len(listed) > MOST_BROUGHT else "")


def _missed(series: Series) -> list[str]:
    """Say why a multiple that was solved for is missed."""
    found = []
    for step in _made(series):
        why = f": {step.held}" if step.held else ""
        if step.times and why:
            found.append(f"{_named(step)} comes to {step.times_reached:.4g} times{why}.")
        elif not step.times and step.share > WORTH_NAMING:
            found.append(f"{step.of} is not all out of it, {percent(step.share, 3)} of the accord stays{why}.")
    return found


def _refused(series: Series) -> list[str]:
    return [f"Not made: {_named(step)}: {step.refused}." for step in series.steps if step.refused]


def _least_vial(series: Series) -> list[str]:
    found = []
    spiked = [step for step in series.steps if step.smallest_vial_g and not step.refused]
    if spiked:
        least = max(spiked, key=lambda step: step.smallest_vial_g or 0.0)
        found.append(
            f"Smallest vial in which each of these spikes can be weighed: {least.smallest_vial_g:.4g} g of base "
            f"({least.of} at {least.times:g} times decides)."
        )
    return found


def _formula(step: Step, decimals: int, width: int) -> str:
    assert step.judged is not None
    columns = (Column(f"{step.code}: {_named(step)}", wraps=True), Column("g", right=True))
    texts = [max(f"{line.grams:.{decimals}f}", f"{line.grams:.6g}", key=len) for line in step.judged.lines]
    rows = zip(step.judged.lines, on_the_point(texts), strict=True)
    return aligned(columns, [(line.stock.label, grams) for line, grams in rows], width)


def _onward(written: Sequence[str]) -> str:
    """Say how the vials go on to other commands."""
    if not written:
        return "--vials FOLDER writes each vial as a formula that compare, weigh and blind take."
    return (
        f"Wrote {', '.join(written)}: formulas as they are weighed, without the carrier for equal strength. weigh "
        "--formula writes the sheet of one, with what to take of it for a vial of a usual strength; blind serves two, "
        "--formula before each, and says the same; compare sets them beside the target as it stands, so that what was "
        "multiplied is off there."
    )


def _limits(series: Series) -> list[str]:
    study = series.study
    product = study.settings.limits.product or "any product"
    dosage = (study.settings.limits.dosage or 0.0) * 100
    checked = f"The restricted limits for {product} at {dosage:g} % were checked for every vial."
    return [checked, *cautions(study)]
