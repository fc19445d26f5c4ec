"""How a result moves with natural variation, as plain data, text and CSV."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from reaccord.answer.formula import formula_rows
from reaccord.report.csv_table import csv_text
from reaccord.report.data import about, cautions, grounds, key_data
from reaccord.report.layout import Column, aligned, counted, headed, paragraph, paragraphs
from reaccord.report.quantities import decimals_of_balance, exact_percent, signed, six_figures
from reaccord.report.terminal import ended
from reaccord.report.verdict import measured, standing

if TYPE_CHECKING:
    from reaccord.questions.spread.draws import Outcome
    from reaccord.questions.spread.spread import Compared, Spread

MOST_ROWS = 16
WIDE = 0.0005
"""Rows whose 90 % of draws lie within less than 0.05 points are only counted."""


def spread_data(spread: Spread) -> dict[str, Any]:
    """Return quantiles and shares of draws ; shares are fractions."""
    study, compared = spread.study, spread.compared
    return {
        **about(study),
        "draws": spread.draws,
        "seed": spread.seed,
        "varied_rows": spread.varied,
        "one_ended_rows": spread.one_ended,
        "lots": spread.lots,
        "formula": formula_rows(spread.outcome.judged),
        "mean": spread.outcome.mean,
        "standard_error": spread.outcome.standard_error,
        "expected": spread.expected,
        "residuals": _residuals(spread),
        "broken": _broken(spread.outcome),
        "nominal": None if compared is None else _outcome(compared.nominal, compared.expected[0]),
        "robust": None if compared is None else _robust(compared),
        **grounds(study),
    }


def _residuals(spread: Spread) -> list[dict[str, Any]]:
    low, middle, high = spread.outcome.residuals
    return [
        {
            "constituent": row.label,
            "kind": row.kind,
            "nominal": residual.residual,
            "q05": float(low[number]),
            "q50": float(middle[number]),
            "q95": float(high[number]),
        }
        for number, (row, residual) in enumerate(
            zip(spread.study.target.rows, spread.outcome.judged.residuals, strict=True)
        )
    ]


def _broken(outcome: Outcome) -> list[dict[str, Any]]:
    return [{"limit": label, **key_data(key), "share_of_draws": share} for key, label, share in outcome.broken]


def _outcome(outcome: Outcome, expected: float) -> dict[str, Any]:
    low, middle, high = (float(value) for value in outcome.deviation)
    return {
        "formula": formula_rows(outcome.judged),
        "mean": outcome.mean,
        "standard_error": outcome.standard_error,
        "expected": expected,
        "q05": low,
        "q50": middle,
        "q95": high,
        "broken": _broken(outcome),
    }


def _robust(compared: Compared) -> dict[str, Any]:
    return _outcome(compared.robust, compared.expected[1]) | {
        "hold": compared.hold,
        "gain": compared.gain,
        "gain_standard_error": compared.standard_error,
        "bound": compared.answer.bound,
        "status": compared.answer.status,
    }


def spread_csv(spread: Spread) -> str:
    """Write one row a constituent: residuals in percent."""
    moves = dict.fromkeys(("nominal", "q05", "q50", "q95"), lambda share: exact_percent(six_figures(share)))
    return csv_text({"constituent": str, "kind": str, **moves}, _residuals(spread))


def spread_text(spread: Spread, width: int) -> str:
    """Return the spread for people: the limits that may break, which rows move how far, and the robust formula."""
    parts = [headed(spread.study.title, verdict(spread), width), _rows(spread, width), _limits(spread, width)]
    if spread.compared is not None:
        parts += [paragraph(_gain(spread.compared), width), _formulas(spread, spread.compared, width)]
    parts.append(paragraphs([*_notes(spread), *cautions(spread.study)], width))
    return ended(parts, _deviation(spread), width)


def verdict(spread: Spread) -> str:
    """Return what is wrong of the formula as stated, which row moves most, and what limits may break."""
    said = [f"{standing(spread.outcome.judged)} as stated"]
    wide = moving(spread)
    if wide:
        most = wide[0]
        ends = f"{signed(most['q05'] * 100, 2)} to {signed(most['q95'] * 100, 2)} points"
        said.append(f"{most['constituent']} moves most, {ends}{'' if of_two(spread) else ' in 90 % of the draws'}")
    else:
        said.append(f"no row moves by as much as {WIDE * 100:g} points")
    worst = max(spread.outcome.broken, key=lambda found: found.share, default=None)
    if worst is not None and worst.share > 0:
        said.append(f"{worst.label} is broken in {worst.share * 100:.2g} % of the draws")
    elif worst is not None:
        said.append("every limit holds in every draw")
    return f"{'; '.join(said)}."


def _deviation(spread: Spread) -> str:
    low, middle, high = spread.outcome.deviation
    stated = f"{measured(spread.study)} {spread.outcome.judged.closeness.value:.4g} as stated"
    if of_two(spread):
        return f"{stated}, from {low:.4g} to {high:.4g}. reaccord help closeness"
    return (
        f"{stated}, {middle:.4g} in the middle, {low:.4g} to {high:.4g} in 90 % of the draws. reaccord help closeness"
    )


def of_two(spread: Spread) -> bool:
    """Whether there are two values to draw and no more, two lots of the target: they have ends, but no quantiles."""
    return spread.lots == 2 and not spread.varied


def moving(spread: Spread) -> list[dict[str, Any]]:
    """Return the rows that move, the one that moves most first."""
    wide = [row for row in _residuals(spread) if row["q95"] - row["q05"] >= WIDE]
    return sorted(wide, key=lambda row: (row["q05"] - row["q95"], row["constituent"]))


def _rows(spread: Spread, width: int) -> str:
    number, shown = len(spread.study.target.rows), moving(spread)[:MOST_ROWS]
    if not shown:
        return f"None of the {counted(number, 'row')} moves by as much as {WIDE * 100:g} points."
    quantiles = {"q05": "least", "q95": "most"} if of_two(spread) else {"q05": "5 %", "q50": "50 %", "q95": "95 %"}
    columns = (
        Column("Off the target, points", wraps=True),
        Column("as stated", right=True),
        *(Column(heading, right=True) for heading in quantiles.values()),
    )
    cells = [(row["constituent"], *(signed(row[q] * 100, 2) for q in ("nominal", *quantiles))) for row in shown]
    rest = number - len(shown)
    return f"{aligned(columns, cells, width)}\n{counted(rest, 'more row')} {'moves' if rest == 1 else 'move'} less."


def _limits(spread: Spread, width: int) -> str:
    broken = [(found.label, found.share) for found in spread.outcome.broken if found.share > 0]
    if not spread.outcome.broken:
        return "No limits are set."
    if not broken:
        return ""
    columns = (Column("Limit", wraps=True), Column("broken in % of draws", right=True))
    cells = [(label, f"{share * 100:.2f}") for label, share in sorted(broken, key=lambda item: (-item[1], item[0]))]
    return aligned(columns, cells, width)


def _gain(compared: Compared) -> str:
    nominal, robust = compared.nominal.mean, compared.robust.mean
    if compared.gain <= 0 or {*_lines(compared.nominal)} == {*_lines(compared.robust)}:
        return "The formula above is the best for the whole spread as well."
    hold = _held(compared) if compared.hold < 1 else ""
    return (
        f"The best for the whole spread, on as many fresh draws: mean deviation {robust:.6g} in place of "
        f"{nominal:.6g}, less by {compared.gain:.2g} (standard error {compared.standard_error:.1g}).{hold}"
    )


def _held(compared: Compared) -> str:
    worst = max((found.share for found in compared.robust.broken if found.key.kind == "restricted"), default=0.0)
    return (
        f" Restricted limits were asked to hold in {compared.hold * 100:g} % of the draws; on the fresh ones the worst "
        f"of them is broken in {worst * 100:.2g} %."
    )


def _lines(outcome: Outcome) -> list[tuple[str, float]]:
    return [(line.stock.label, line.grams) for line in outcome.judged.lines]


def _formulas(spread: Spread, compared: Compared, width: int) -> str:
    decimals = decimals_of_balance(spread.study)
    nominal, robust = dict(_lines(compared.nominal)), dict(_lines(compared.robust))
    columns = (Column("Pour", wraps=True), Column("as stated g", right=True), Column("for the spread g", right=True))
    labels = sorted({*nominal, *robust})
    cells = [
        (label, *(f"{found[label]:.{decimals}f}" if label in found else "" for found in (nominal, robust)))
        for label in labels
    ]
    return aligned(columns, cells, width)


def _notes(spread: Spread) -> list[str]:
    lots = f" and {spread.lots} lots of the target" if spread.lots else ""
    notes = [
        f"Drawn {counted(spread.draws, 'time')} from {counted(spread.varied, 'composition row')} that may vary{lots}.",
        "Rows with low and high are drawn from a triangle (low, share, high), each for itself; what a row gains or "
        "loses, the undeclared mass of its material loses or gains.",
    ]
    if any(row.band for row in spread.study.target.rows if row.kind == "named"):
        notes.append("Rows with a band are held against the band as stated.")
    if spread.one_ended:
        notes.append(f"{counted(spread.one_ended, 'row')} with only one of low and high did not vary.")
    if not spread.varied:
        notes.append("No composition row has low and high: nothing varies.")
    notes.append(f"Seed {spread.seed}.")
    return notes
