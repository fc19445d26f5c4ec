"""The linear measures, `absolute` and `worst`, through HiGHS (the one inside scipy).

Every row's deviation becomes one column that is at least `factor (y - high)` and at least
`factor (low - y)`; `worst` shares one such column among all rows. What HiGHS calls a formula may lean on its
tolerances (an "off" bottle of a millionth of the batch), so only its pattern of on and off is taken and the
rest is solved again as a linear programme.

HiGHS cannot be interrupted from here while it runs: `Effort.stop` is asked between its runs, and
`Effort.seconds` is what ends a long one.
"""

from __future__ import annotations

import time
from typing import Any

from reaccord.contract import Answer, Effort, FloatArray, Programme
from reaccord.solvers.linear_model import LinearModel, Outcome
from reaccord.solvers.switching import (
    BoolArray,
    Switches,
    hopeless,
    per_batch,
    spread_out,
    switches_of,
    truly_bounded,
    with_pattern,
)
from reaccord.solvers.verdict import Found, verdict

PATTERNS = 100
"""Patterns refused one by one before giving up: each held only within HiGHS's tolerance."""


def solve(programme: Programme, effort: Effort | None = None) -> Answer:
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
    effort = effort or Effort()
    started = time.perf_counter()
    scaled = per_batch(programme)
    switches = switches_of(scaled)
    if hopeless(scaled, switches):
        outcome, amounts = Outcome(infeasible=True), None
    else:
        outcome, amounts = _search(scaled, switches, effort, started)
    infeasible, bound = outcome.infeasible, outcome.bound
    grams = None
    if amounts is not None:
        grams = spread_out(programme, *amounts)
        if not truly_bounded(scaled, switches, programme.value(grams)):
            bound = 0.0
    elif switches.assumed.any():
        infeasible, bound = False, 0.0
    found = Found("HiGHS", _version(), grams, bound, outcome.nodes, infeasible)
    return verdict(programme, effort, found, started)


def _search(
    scaled: Programme, switches: Switches, effort: Effort, started: float
) -> tuple[Outcome, tuple[Any, FloatArray] | None]:
    """Return what HiGHS said last, and the first pattern's amounts that really hold (kept columns, batches)."""
    model = LinearModel(scaled, switches)
    outcome = Outcome()
    for _ in range(PATTERNS):
        left = effort.seconds - (time.perf_counter() - started)
        if effort.stop() or left <= 0:
            break
        outcome = model.search(effort.gap / 2, left).after(outcome)
        if outcome.columns is None:
            break
        on = model.pattern(outcome.columns)
        amounts = _polished(scaled, switches, on)
        if amounts is not None:
            return outcome, amounts
        model.refuse(on)
    return outcome, None


def _polished(scaled: Programme, switches: Switches, on: BoolArray) -> tuple[Any, FloatArray] | None:
    """Return the kept columns and their best amounts in batches under a fixed pattern; None if none hold."""
    fixed, none, kept = with_pattern(scaled, switches, on)
    if not len(kept):
        return None
    columns = LinearModel(fixed, none).exact()
    return None if columns is None else (kept, columns[: len(kept)])


def _version() -> str:
    import scipy

    return f"scipy {scipy.__version__}"
