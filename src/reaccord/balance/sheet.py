"""The sheet for the bench: what is weighed in which order, how exactly, and what to make before."""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

import numpy as np

from reaccord.answer.amounts import amounts_of, in_grams, with_made
from reaccord.answer.judge import Judgement, PouredLine, judge
from reaccord.answer.limits_held import LimitState
from reaccord.answer.rounding import round_amounts
from reaccord.balance import smallest_batch
from reaccord.balance.dilution import Making, stocks_to_make
from reaccord.balance.smallest_batch import SmallestBatch
from reaccord.balance.weighing_order import weighing_order
from reaccord.domain.stock import Stock, StockKey
from reaccord.domain.study import Study
from reaccord.domain.three_figures import three_figures
from reaccord.findings import UsageError
from reaccord.programme import state
from reaccord.study.changed import with_keys
from reaccord.study.smallest_mass import EXPANSION, grams_of, repeatability, steps_down, steps_up

HALF = 0.5
A_FEW = 10
"""Steps by which a line may be moved so that the limits hold: more would be another formula."""

Amounts = Mapping[StockKey, float]


@dataclass(frozen=True)
class Off:
    """What a line that is off by its tolerance does: `change` of the deviation (the worse of more and less).

    `constituent` is the row of the target that moves most, by `moved`, a share of the accord; `breaks` are what the
    rules restrict and so much more takes over its limit.
    """

    change: float
    constituent: str
    moved: float
    breaks: tuple[str, ...] = ()


@dataclass(frozen=True)
class SheetLine:
    """One line of the sheet, in its place.

    Gram throughout: `running_g` is what a balance without tare shows after it, `tolerance_g` how far off it may be
    (None: no balance).
    """

    order: int
    poured: PouredLine
    running_g: float
    parts_per_thousand: float
    tolerance_g: float | None
    off: Off | None

    @property
    def stock(self) -> Stock:
        """What is poured from."""
        return self.poured.stock

    @property
    def grams(self) -> float:
        """Net gram."""
        return self.poured.grams


@dataclass(frozen=True)
class Sheet:
    """The whole sheet; `neat` and `diluted` are the smallest batches, `stocks` are made before."""

    study: Study
    judged: Judgement
    lines: tuple[SheetLine, ...]
    stocks: tuple[Making, ...]
    neat: SmallestBatch
    diluted: SmallestBatch


def sheet(study: Study, amounts: Amounts, first: Sequence[StockKey] = ()) -> Sheet:
    """Return the sheet of a formula, gram by stock; `first` are weighed first, in their order."""
    judged = judge(study, amounts)
    total, running, lines = judged.totals.total_g, 0.0, []
    for order, line in enumerate(weighing_order(judged.lines, first), start=1):
        running = math.fsum((running, line.grams))
        tolerance = tolerance_of(study, line.stock, line.grams)
        off = None if tolerance is None else _off(study, judged, line, tolerance)
        lines.append(SheetLine(order, line, running, 1000 * line.grams / total, tolerance, off))
    neat, diluted = smallest_batch.neat(study, judged), smallest_batch.diluted(study, judged)
    return Sheet(study, judged, tuple(lines), stocks_to_make(study, amounts), neat, diluted)


def tolerance_of(study: Study, stock: Stock, grams: float) -> float | None:
    """Return how far off a line may be, gram; None without a balance.

    The study's tolerance of the line, in whole steps, at least one; where it states none, what the balance cannot tell
    apart: twice its standard deviation (USP General Chapter <41>), at least a step.
    """
    balance = study.settings.balance
    if balance is None:
        return None
    step = stock.step_g or balance.readability_g
    if balance.tolerance is not None:
        return max(step, grams_of(steps_down(balance.tolerance * grams, step), step))
    return grams_of(steps_up(EXPANSION * repeatability(balance), step), step)


def _off(study: Study, judged: Judgement, line: PouredLine, tolerance: float) -> Off:
    amounts = {each.stock.key: each.grams for each in judged.lines}
    found, breaks = [], dict[str, None]()
    for moved in (tolerance, -min(tolerance, HALF * line.grams)):
        other = judge(study, amounts | {line.stock.key: line.grams + moved})
        moves = [
            (abs(there.achieved - here.achieved), here.row.label)
            for here, there in zip(judged.residuals, other.residuals, strict=True)
            if here.kind != "undeclared"
        ]
        over = {state.key for state in judged.broken}
        if moved > 0:
            breaks |= {s.label: None for s in other.broken if s.key.kind == "restricted" and s.key not in over}
        share, label = max(moves)
        found.append(Off(other.closeness.value - judged.closeness.value, label, share))
    return replace(max(found, key=lambda off: off.change), breaks=tuple(breaks))


def rescaled(study: Study, amounts: Amounts, accord_g: float) -> tuple[Study, dict[StockKey, float]]:
    """Return a formula in the same parts for another batch, on the balance's grid, and the study of that batch.

    Raises
    ------
    UsageError
        If a line cannot be weighed in so little, or a bottle does not hold so much.
    """
    judged = judge(study, amounts)
    times = accord_g / judged.totals.accord_g
    least = smallest_batch.as_poured(judged)
    if times * judged.totals.accord_g < least.accord_g * (1 - 1e-9):
        smallest = three_figures(least.accord_g, up=True)
        raise UsageError(
            f"{accord_g:g} g of accord are too small a batch for this balance: {least.decided_by.label} could not be "
            f"weighed. Take --accord-g {float(smallest):g} or more, or solve for so little (batch.accord_g = "
            f"{accord_g:g}), which takes the dilutions it needs."
        )
    changed = with_keys(study, "batch", accord_g=accord_g)
    found = {line.stock.key: _on_grid(line.stock, times * line.grams) for line in judged.lines}
    broken = judge(changed, found).broken
    _need_stock(broken, accord_g)
    if {state.key for state in broken} - {state.key for state in judged.broken}:
        found = _inside(changed, found) or found
    return changed, found


def _on_grid(stock: Stock, grams: float) -> float:
    step = stock.step_g
    return max(grams_of(math.floor(grams / step + HALF), step), stock.minimum_g) if step > 0 else grams


def _inside(study: Study, amounts: Amounts) -> dict[StockKey, float] | None:
    """Return amounts a few steps aside that hold every limit; None if there are none, or a stock is set aside."""
    if any(study.stock(key) is None for key in amounts):
        return None
    programme = state(study)
    vector = with_made(programme, amounts_of(programme, study, amounts))
    rounded = round_amounts(programme, vector)
    if rounded is None or (np.abs(rounded - vector) > A_FEW * programme.step + 1e-9)[~programme.helpers].any():
        return None
    return in_grams(study.stocks, rounded)


def _need_stock(broken: Iterable[LimitState], accord_g: float) -> None:
    shorts = [state for state in broken if state.key.kind == "on hand"]
    if shorts:
        worst = min(shorts, key=lambda short: short.limit / short.value)
        bottle, enough = worst.label.removesuffix(": on hand"), accord_g * worst.limit / worst.value
        raise UsageError(
            f"this batch takes {worst.value:.4g} g of {bottle}, {worst.limit:g} g are on hand. Take --accord-g "
            f"{float(three_figures(enough, up=False)):g} or less."
        )
