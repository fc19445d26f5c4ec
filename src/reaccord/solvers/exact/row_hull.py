"""The row hull, a second-order cone programme: every row with the exact hull of its squared distance over switches.

    minimise  sum_j low_j^2 + sum_ji (q_ji - low_j^2 part_ji)
        with  q_ji part_ji >= d_ji^2,  low_j part_ji <= content_ji x_i - d_ji <= high_j part_ji,
              part_ji <= z_i,  sum_i part_ji <= 1,
              minimum_i z_i <= x_i <= maximum_i z_i  and every limit in x and z

The squared distance of a sum of parts that are not negative is the least of these when every `part_ji` may be up
to 1; a switch that is only partly on leaves less. In a share row `d_ji` is `content_ji x_i - low_j part_ji`, and the
square is written out, so it needs no variable. The dual of `sum_i part_ji <= 1` tells the row's level (in
`hull_layout`), and that is all the closed form of `bound` needs of a row; Clarabel's own word counts for nothing.

Few parts ever reach their switch: those that would exceed the row's level, `content_ji x_i / z_i`. Only they stand
alone; the rest of a row shares one quotient, and a row without any is a plain squared distance.
"""

from __future__ import annotations

import math
from collections.abc import Callable

import numpy as np

from reaccord.solvers.exact.demands import unmet
from reaccord.solvers.exact.filled import Filled
from reaccord.solvers.exact.hull_layout import UNUSED, BoolArray, Hull, Layout
from reaccord.solvers.exact.scaled import FREE, OFF, ON, Scaled, State
from reaccord.solvers.exact.separable import rise

ROUNDS, AT_ONCE = 12, 80
NOTED, WORTH = 0.1, 2.0
"""Of the loss: what a part is worth to stand alone, and what all such parts are to be solved again for."""


def relax_hull(
    scaled: Scaled,
    state: State,
    among: BoolArray,
    loss: float,
    alone: BoolArray | None,
    over: Callable[[], bool] = lambda: False,
    enough: float = math.inf,
) -> Hull | None:
    """Return the relaxation of a state solved, or None if Clarabel fails.

    It begins with the columns of `among` (n,) and takes in others as long as they lower the bound by more
    than `loss` (absolute); the bound counts all of them anyway. The parts of `alone` stand alone, and those that
    turn out to. When `over` says that time is up the first solution is taken; a bound of `enough` ends it.
    """
    among = (among | (state == ON)) & (state != OFF)
    for columns in unmet(scaled, state):
        among[columns] = True
    alone = likely_alone(scaled) if alone is None else alone
    best: Hull | None = None
    for _ in range(ROUNDS):
        layout = Layout(scaled, np.where(among, state, OFF).astype(np.int8), alone)
        answer = layout.solve()
        if answer is None:
            return best
        if answer.infeasible:
            return layout.excluded(answer.duals, state) or best
        found = layout.read(answer.variables, answer.duals, state)
        gained = math.inf if best is None else found.bound.value - best.bound.value
        best = found if gained > 0 else best
        outside = (state == FREE) & ~among
        gain = np.where(outside, np.minimum(found.bound.worth, 0.0), 0.0)
        exceeding, worth = _exceeding(scaled, state, found, loss, alone)
        done = float(gain.sum()) >= -loss and (worth <= WORTH * loss or gained <= loss)
        if best is not None:  # what is too little to solve again for, those below have
            best = best._replace(alone=best.alone | exceeding)
        if done or over() or found.bound.value >= enough:
            break
        order = np.argsort(gain, kind="stable")[: max(AT_ONCE, int(among.sum()) // 2)]
        among, alone = among.copy(), alone | exceeding
        among[order[gain[order] < 0]] = True
    return best


def likely_alone(scaled: Scaled) -> BoolArray:
    """Return which entries fill half of a share row when poured as they would be alone; in bands too few exceed."""
    row, column, entry = scaled.entries
    size = np.maximum(0.5 * scaled.products.curvature, 1e-300)
    solo = np.clip(scaled.products.weighed(scaled.low) / size, scaled.minimum, scaled.maximum)
    return np.asarray(~scaled.banded[row] & (scaled.low[row] > 0) & (entry * solo[column] >= 0.5 * scaled.low[row]))


def _exceeding(scaled: Scaled, state: State, found: Hull, loss: float, alone: BoolArray) -> tuple[BoolArray, float]:
    """Return which parts that do not stand alone would be more than their row's level if their column were all on.

    By more than is worth it; and what they are worth at most.
    """
    row, column, entry = scaled.entries
    used, filled = found.switches > UNUSED, Filled.of(scaled, state)
    moved = filled.rows[row] - filled.parts
    full = np.where(used, found.amounts / np.where(used, found.switches, 1.0), 0.0)
    risen = rise(entry * full[column] + moved, found.duals.levels[row], scaled.low[row], scaled.high[row])
    worth = found.switches[column] * risen
    exceeding = np.asarray((worth > NOTED * loss) & ~alone)
    return exceeding, float(worth[exceeding].sum())
