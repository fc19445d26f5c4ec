"""The linear measures, `absolute` and `worst`, through HiGHS.

Every row's deviation becomes one column that is at least `factor (y - high)` and at least
`factor (low - y)`; `worst` shares one such column among all rows. What HiGHS calls a formula may lean on its
tolerances (an "off" bottle of a millionth of the batch), so only its pattern of on and off is taken and the
rest is solved again as a linear programme.

The search begins from the formula that the exact door's root comes to, poured anew for the measure: no time is too
short for a formula then, and its value bounds every amount.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from reaccord.contract import Answer, Budget, FloatArray, Programme
from reaccord.solvers.exact import first_formula
from reaccord.solvers.highs import Told
from reaccord.solvers.linear_model import UNIT, HighsRun, LinearModel
from reaccord.solvers.switching import (
    BoolArray,
    Switches,
    hopeless,
    per_batch,
    spread_out,
    switches_of,
    truly_bounded,
    with_pattern,
    within,
)
from reaccord.solvers.verdict import Found, verdict

FIRST = 0.25
"""Part of the time that the first formula may take."""

ROOM = 1e-6
"""Relative; amounts that a formula's value rules out are ruled out only beyond this."""

CLOSER = 0.9
"""Part of the gap that HiGHS is asked for: pouring its pattern anew moves the value a little."""

SAME = 2e-9
"""Relative; a value this near to what is proven is the least."""

PATTERNS = 100
"""Patterns refused one by one before giving up: each held only within HiGHS's tolerance."""


def solve(programme: Programme, budget: Budget | None = None) -> Answer:
    """Return the smallest `absolute` or `worst` deviation of a programme, and its bound.

    Raises
    ------
    ValueError
        The programme's measure is `squares`.
    SolverFault
        HiGHS failed, or its amounts do not hold the limits.
    """
    if programme.measure == "squares":
        raise ValueError("squares are not linear: use the exact or the reference solver")
    budget = (budget or Budget()).running()
    scaled = per_batch(programme)
    switches = switches_of(scaled)
    if hopeless(scaled, switches):
        outcome, poured = HighsRun(infeasible=True), None
    else:
        outcome, poured = _search(scaled, switches, budget)
    infeasible, bound = outcome.infeasible, outcome.bound
    grams = None
    if poured is not None:
        grams = spread_out(programme, poured.kept, poured.amounts)
        if not truly_bounded(scaled, switches, programme.value(grams)):
            bound = 0.0
    elif switches.assumed.any():
        infeasible, bound = False, 0.0
    found = Found("HiGHS", ("highspy",), grams, bound, outcome.nodes, infeasible)
    return verdict(programme, budget, found)


@dataclass(frozen=True)
class _Poured:
    """A pattern's best amounts: the columns kept, their amounts in batches, the deviation columns, what is on (n,)."""

    kept: NDArray[np.intp]
    amounts: FloatArray
    deviations: FloatArray
    on: BoolArray

    @property
    def value(self) -> float:
        return float(self.deviations.sum()) * UNIT


def _search(scaled: Programme, switches: Switches, budget: Budget) -> tuple[HighsRun, _Poured | None]:
    """Return what HiGHS said last, and the best pattern whose amounts really hold."""
    model, outcome = LinearModel(scaled, switches), HighsRun()
    known = _first(model, budget) if len(switches.columns) else None
    if known is not None:
        switches = within(scaled, switches, known.value * (1 + ROOM))
        model = LinearModel(scaled, switches)
    progress, start = model.progress_of(budget.progress), None
    if known is not None:
        start = model.start(spread_out(scaled, known.kept, known.amounts), known.on, known.deviations)
    for _ in range(PATTERNS):
        if budget.over():
            break
        outcome = model.search(CLOSER * budget.gap, budget.left(), Told(budget.stop, progress, start)).after(outcome)
        if outcome.columns is None:
            break
        on = model.pattern(outcome.columns)
        poured = _as_found(model, on, outcome) or poured_on(model, on)
        if poured is not None:
            better = known is None or poured.value <= known.value
            return outcome, poured if better else known
        model.refuse(on)
        start = None
    if known is not None:  # a formula in hand: HiGHS's "none" can then only mean "none better"
        return replace(outcome, infeasible=False, bound=min(outcome.bound, known.value)), known
    return outcome, None


def _first(model: LinearModel, budget: Budget) -> _Poured | None:
    """Return the exact door's first formula or what to begin from, poured for the measure; None if neither holds.

    A small model is settled sooner than the exact door has a formula.
    """
    if budget.over():
        return None
    patterns = [budget.start]
    if not model.is_small:
        patterns.append(first_formula(model.programme, budget.rest(FIRST, start=budget.start)))
    poured = [polished(model.programme, model.switches, amounts > 0) for amounts in patterns if amounts is not None]
    return min((found for found in poured if found is not None), key=lambda found: found.value, default=None)


def _as_found(model: LinearModel, on: BoolArray, outcome: HighsRun) -> _Poured | None:
    """Return the amounts of a small model's columns where pouring what is on (n,) anew can do no better."""
    columns = outcome.columns
    if columns is None or not (model.is_small and model.holds(columns)):
        return None
    poured = _of(model, on, columns)
    return poured if poured.value <= outcome.bound * (1 + SAME) else None


def poured_on(model: LinearModel, on: BoolArray) -> _Poured | None:
    """Return the best amounts of what is on (n,) and nothing else, of a small model by what is kept of it.

    None if none hold.
    """
    said = model.exact_on(on) if model.is_small else None
    if said is None:  # a large model, or HiGHS fails from the basis of other questions
        switches = model.switches
        return polished(model.programme, switches._replace(upper=np.where(on, switches.upper, 0.0)), on)
    return None if said[0] is None else _of(model, on, said[0])


def _of(model: LinearModel, on: BoolArray, columns: FloatArray) -> _Poured:
    """Return what a model's columns pour of what is on (n,)."""
    kept = np.flatnonzero(on & (model.switches.upper > 0))
    return _Poured(kept, columns[kept], model.deviations(columns), on)


def polished(scaled: Programme, switches: Switches, on: BoolArray) -> _Poured | None:
    """Return the best amounts under a fixed pattern of on and off (n,); None if none hold."""
    fixed, none, kept = with_pattern(scaled, switches, on)
    if not len(kept):
        return None
    model = LinearModel(fixed, none)
    columns = model.exact()
    return None if columns is None else _Poured(kept, columns[: len(kept)], model.deviations(columns), on)
