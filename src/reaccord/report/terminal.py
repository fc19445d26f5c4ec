"""Results as aligned text. First the verdict, then what to pour, then what is off and why."""

from __future__ import annotations

import io
import math
import textwrap
from collections.abc import Iterable, Mapping, Sequence

from rich.console import Console
from rich.table import Table

from reaccord.domain.study import Study
from reaccord.fit import Fit
from reaccord.judge import Judgement, Residual
from reaccord.limits_held import LimitState
from reaccord.reasons import idle_materials
from reaccord.report.data import cautions

WORTH_SHOWING = 0.003
"""Residuals of 0.3 points and more are shown,"""
OF_THE_DEVIATION = 0.02
"""and those that make up this part of the deviation,"""
MOST_ROWS = 16
"""but no more than these."""
BAR = 10


def fit_text(fit: Fit, width: int) -> str:
    """Return the answer of `fit` for people."""
    judged = fit.judged
    parts = [f"{fit.study.title or 'Untitled study'}\n{_verdict(fit)}"]
    parts.append(_pour(fit.study, judged, width))
    parts.append(_off(judged, fit.reasons, width))
    parts.append(_limits(judged.limits, width))
    parts.append("\n".join([*_rest(fit.study, judged), _rounding(fit)]))
    parts += _rules(fit.study, width)
    return "\n\n".join(parts) + "\n"


def compare_text(study: Study, judged: Judgement, reasons: Mapping[str, str], width: int) -> str:
    """Return the judgement of a given formula for people."""
    parts = [f"{study.title or 'Untitled study'}\nThis formula: {_wrong(judged)} {_broken(judged)}"]
    parts.append(_pour(study, judged, width))
    parts.append(_off(judged, reasons, width))
    parts.append(_limits(judged.limits, width))
    parts.append("\n".join(_rest(study, judged)))
    parts += _rules(study, width)
    return "\n\n".join(parts) + "\n"


def _wrong(judged: Judgement) -> str:
    return f"{judged.closeness.misplaced_share * 100:.1f} % of it is the wrong substance."


def _broken(judged: Judgement) -> str:
    broken = judged.broken
    if not broken:
        return "It holds every limit."
    return f"It breaks {len(broken)} limit{'s' if len(broken) > 1 else ''}: {', '.join(s.label for s in broken)}."


def _verdict(fit: Fit) -> str:
    stocks = fit.study.stocks
    bottles = sum(stock.recipe is None for stock in stocks)
    shelf = f"{bottles} bottle{'s' if bottles != 1 else ''}"
    if fit.answer.status == "proven":
        proof = f"proven within {_percent(max(fit.gap, 1e-6))}" if fit.gap > 1e-6 else "proven"
        return f"The closest formula these {shelf} allow, {proof}: {_wrong(fit.judged)}"
    return (
        f"The best formula found with these {shelf}, not proven: another may be up to "
        f"{_percent(fit.gap)} closer. {_wrong(fit.judged)}"
    )


def _percent(share: float) -> str:
    return f"{float(f'{share * 100:.2g}'):g} %"


def _pour(study: Study, judged: Judgement, width: int) -> str:
    table = _table(("Pour", "left"), ("g", "right"), ("‰", "right"), ("cost", "right"), ("lot", "left"))
    decimals = _decimals(judged)
    for line in judged.lines:
        stock = line.stock
        cost = "?" if line.cost is None else f"{line.cost:.3f}"
        name = stock.key.material
        if stock.key.strength < 1:
            name += f" {stock.key.strength * 100:.6g} % in {stock.key.carrier}"
        lot = "to be made" if stock.recipe else stock.key.lot
        table.add_row(name, f"{line.grams:.{decimals}f}", f"{line.share * 1000:.1f}", cost, lot)
    totals = judged.totals
    active = totals.total_g - totals.carrier_g
    priced = f"{totals.cost_per_kg:.2f} per kg of the {active:.3f} g without carrier"
    if totals.unpriced_lines:
        priced += f", {totals.unpriced_lines} lines have no price"
    table.add_row(
        f"{len(judged.lines)} lines",
        f"{totals.total_g:.{decimals}f}",
        "1000.0",
        f"{totals.cost:.3f}",
        priced,
    )
    return _printed(table, width)


def _decimals(judged: Judgement) -> int:
    """Return the decimals that the finest step poured needs, so that the column lines up."""
    steps = [line.stock.step_g for line in judged.lines]
    if not all(steps):
        return 4
    return max(len(f"{step:.9f}".rstrip("0").split(".")[1]) for step in steps)


def _off(judged: Judgement, reasons: Mapping[str, str], width: int) -> str:
    shown = _shown(judged.residuals)
    rest = [r for r in judged.residuals if r not in shown]
    if not shown:
        return f"All {len(rest)} rows are within {WORTH_SHOWING * 100:.1f} points."
    table = _table(("Off the target", "left"), ("target", "right"), ("got", "right"), ("", "left"), ("why", "left"))
    most = max(abs(r.residual) for r in shown)
    for r in shown:
        name = r.row.label + ("" if r.kind != "foreign" else " (not in the target)")
        table.add_row(name, _target(r), _share(r.achieved), _bar(r.residual / most), reasons.get(r.row.label, ""))
    largest = max((abs(r.residual) for r in rest), default=0.0)
    more = f"\n{len(rest)} more rows are within {largest * 100:.2f} points." if rest else ""
    return _printed(table, width) + more


def _shown(residuals: Sequence[Residual]) -> list[Residual]:
    total = sum(r.scaled**2 for r in residuals)
    worth = [
        r
        for r in residuals
        if abs(r.residual) >= WORTH_SHOWING or (total > 0 and r.scaled**2 >= OF_THE_DEVIATION * total)
    ]
    return sorted(worth, key=lambda r: (-abs(r.scaled), r.row.label))[:MOST_ROWS]


def _target(r: Residual) -> str:
    if r.row.band:
        return f"{r.row.low * 100:.3g} to {r.row.high * 100:.3g} %"
    return "none" if r.kind == "foreign" else _share(r.row.share)


def _share(share: float) -> str:
    return f"{share * 100:.2f} %" if share >= 0.0001 or share == 0 else f"{share * 100:.4f} %"


def _bar(part: float) -> str:
    length = round(abs(part) * BAR)
    if part < 0:
        return "━" * length + "┤" if length == BAR else " " * (BAR - length) + "━" * length + "┤"
    return " " * BAR + "├" + "━" * length


def _limits(states: Iterable[LimitState], width: int) -> str:
    found = list(states)
    if not found:
        return "No limits are set."
    table = _table(("Limit", "left"), ("stands at", "right"), ("limit", "right"), ("", "left"))
    for state in sorted(found, key=lambda s: (s.held, not s.binding)):
        word = "BROKEN" if not state.held else "holds it back" if state.binding else ""
        sense = "≥" if state.sense == "at least" else ""
        table.add_row(state.label, _quantity(state.value, state.unit), sense + _quantity(state.limit, state.unit), word)
    return _printed(table, width)


def _quantity(value: float, unit: str) -> str:
    if unit == "share":
        return _plain(value * 100) + " %"
    return {"g": f"{value:.3f} g", "lines": f"{value:.0f}", "ratio": f"{value:.3f}"}.get(unit, f"{value:.2f}")


def _plain(percent: float) -> str:
    """Write three significant digits without an exponent."""
    if percent == 0:
        return "0"
    decimals = min(max(2 - math.floor(math.log10(abs(percent))), 0), 9)
    text = f"{percent:.{decimals}f}"
    return text.rstrip("0").rstrip(".") if "." in text else text


def _rest(study: Study, judged: Judgement) -> list[str]:
    t = judged.totals
    active = t.total_g - t.carrier_g
    target = study.target
    samples = ", ".join(target.samples) or "the table"
    idle = idle_materials(study, judged)
    beside = [f"Bring next to nothing of the target and only make room in a limit: {', '.join(idle)}."] if idle else []
    return [
        *beside,
        f"Not named: {t.undeclared_g / active * 100:.1f} % of this batch is what nobody declared, "
        f"{t.foreign_g / active * 100:.1f} % is foreign.",
        f"Target {samples}: published sum {target.published_sum * 100:.2f} %, "
        f"{target.unaccounted * 100:.2f} % of the original unaccounted for.",
    ]


def _rules(study: Study, width: int) -> list[str]:
    """Return whose rules these are, and the cautions."""
    if not study.rules:
        return []
    who = {
        ", ".join(part for part in (rule.authority, rule.edition, rule.date) if part) or "nobody named"
        for rule in study.rules
    }
    product = study.settings.limits.product or "any product"
    dosage = (study.settings.limits.dosage or 0.0) * 100
    lines = [f"Rules for {product} at {dosage:g} %: {'; '.join(sorted(who))}.", *cautions(study)]
    return ["\n".join(textwrap.fill(line, width) for line in lines)]


def _rounding(fit: Fit) -> str:
    before, after = fit.judged_before.closeness.value, fit.judged.closeness.value
    seconds = f"{fit.answer.seconds:.1f} s."
    if before <= 1e-9:
        return seconds
    grid = fit.study.settings.balance
    over = max(0.0, after / max(fit.bound, 1e-300) - 1)
    to = f"to {grid.readability_g:g} g " if grid else ""
    return (
        f"Deviation {after:.6g} ({fit.study.settings.fit.measure}, {fit.study.settings.fit.scale}); bound "
        f"{fit.bound:.6g}: after rounding {to}within {_percent(max(over, 1e-6))} of the bound. {seconds}"
    )


def _table(*columns: tuple[str, str]) -> Table:
    table = Table(box=None, pad_edge=False, padding=(0, 2, 0, 0), header_style="bold")
    for number, (heading, justify) in enumerate(columns):
        table.add_column(
            heading,
            justify="right" if justify == "right" else "left",
            no_wrap=number < len(columns) - 1,
            overflow="fold",
        )
    return table


def _printed(table: Table, width: int) -> str:
    text = io.StringIO()
    Console(file=text, width=width, no_color=True, highlight=False, markup=False, emoji=False).print(table)
    return "\n".join(line.rstrip() for line in text.getvalue().splitlines())
