"""The programme of `contract.py` said in cvxpy, nearly word for word: for the reference solver, and for people."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from itertools import count
from typing import Any

import numpy as np

from reaccord.contract import LimitRow, Programme
from reaccord.solvers.switching import FAR, Switches, must_switch


@dataclass(frozen=True)
class Statement:
    """A programme said in cvxpy.

    problem
        The `cvxpy.Problem`; its variables and constraints bear names.
    amounts, used : (n,)
        Amounts (in the programme's unit of mass), and 1 where a column is used.
    achieved, scaled : (K,)
        Share of each row, and its scaled deviation.
    constraints
        Each constraint of the problem by its name.
    """

    problem: Any
    amounts: Any
    used: Any
    achieved: Any
    scaled: Any
    constraints: Mapping[str, Any]


def by_stock_alone(programme: Programme) -> Switches:
    """Return the switches of a programme with bounds that hold whatever is asked besides or no longer asked.

    An amount is bounded by what is on hand and by the batch; where neither bounds it, by `FAR` batches.
    """
    with np.errstate(divide="ignore"):
        by_batch = np.where(programme.basis > 0, programme.batch_g / programme.basis, np.inf)
    upper = np.minimum(programme.maximum, by_batch)
    switched = must_switch(programme)
    assumed = switched & np.isinf(upper)
    far = np.maximum(FAR * programme.batch_g, 10 * programme.minimum)
    return Switches(switched, np.where(assumed, far, upper), assumed)


def statement(programme: Programme, switches: Switches) -> Statement:
    """State a programme in cvxpy."""
    import cvxpy as cp

    amounts = cp.Variable(len(programme.columns), name="amounts")
    used, ties = _on_and_off(programme, switches, amounts)
    achieved = programme.content @ amounts / programme.batch_g
    inside, in_band = _nearest_inside(programme)
    # A variable of its own: cvxpy 1.9.3 derives false bounds for the square of an affine expression
    # with infinite ends (inf x 0) and SCIP then finds nothing feasible.
    scaled = cp.Variable(len(programme.rows), name="scaled deviations")
    rules = {
        "batch": programme.basis @ amounts == programme.batch_g,
        "deviations": scaled == cp.multiply(programme.factor, achieved - inside),
        **in_band,
        **ties,
    }
    for row in programme.limits:
        size = _size(row, programme.batch_g)
        rules[_free(row.label, rules)] = row.amounts / size @ amounts + row.used / size @ used <= row.most / size
    for name, rule in rules.items():
        rule.set_label(name)
    deviation = {"squares": cp.sum_squares, "absolute": cp.norm1, "worst": cp.norm_inf}[programme.measure]
    problem = cp.Problem(cp.Minimize(deviation(scaled)), list(rules.values()))
    return Statement(problem, amounts, used, achieved, scaled, rules)


def _size(row: LimitRow, batch_g: float) -> float:
    """Return about what a limit on grams allows: divided by it, a solver's tolerance is a part of that.

    What is counted per gram of accord is allowed in proportion to the batch: `content - most * basis <= 0`.
    """
    if row.used.any():
        return 1.0
    per_gram = float(np.max(-row.amounts, initial=0.0)) * batch_g
    return abs(row.most) or per_gram or float(np.max(np.abs(row.amounts), initial=0.0)) or 1.0


def _free(name: str, taken: Mapping[str, Any]) -> str:
    """Return a name that no other constraint bears: several rows of one limit are numbered."""
    names: Iterator[str] = (name if number == 1 else f"{name} ({number})" for number in count(1))
    return next(one for one in names if one not in taken)


def _on_and_off(programme: Programme, switches: Switches, amounts: Any) -> tuple[Any, dict[str, Any]]:
    """Return the switches (n,), 1 where nothing is switched, and what ties the amounts to them."""
    import cvxpy as cp

    columns = switches.columns
    free = np.flatnonzero(~switches.switched)
    bounded = free[np.isfinite(switches.upper[free])]
    dead = np.flatnonzero(switches.switched & (switches.upper == 0))
    rules = {
        "least of what is always on": amounts[free] >= programme.minimum[free],
        "most of what is always on": amounts[bounded] <= switches.upper[bounded],
        "cannot be used": amounts[dead] == 0,
    }
    used: Any = np.where(switches.switched, 0.0, 1.0)
    if not len(columns):
        return used, rules
    on = cp.Variable(len(columns), boolean=True, name="used")
    used = used + np.eye(len(programme.columns))[:, columns] @ on
    rules["on hand"] = amounts[columns] <= cp.multiply(switches.upper[columns], on)
    rules["smallest weighable"] = amounts[columns] >= cp.multiply(programme.minimum[columns], on)
    for number, strengths in enumerate(programme.strengths, start=1):
        chosen = cp.Variable(len(strengths), boolean=True, name=f"strength {number}")
        for k, members in enumerate(strengths):
            rules[f"strength {number}.{k + 1}"] = used[list(members)] <= chosen[k]
        rules[f"one strength {number}"] = cp.sum(chosen) <= 1
    return used, rules


def _nearest_inside(programme: Programme) -> tuple[Any, dict[str, Any]]:
    """Return the point (K,) of each row's band that it is measured from, and what keeps it there."""
    import cvxpy as cp

    low, high = programme.low, programme.high
    bands = np.flatnonzero(low < high)
    if not len(bands):
        return low, {}
    place = cp.Variable(len(bands), name="places in the bands")
    capped = np.flatnonzero(np.isfinite(high[bands]))
    rules = {"low ends": place >= low[bands], "high ends": place[capped] <= high[bands][capped]}
    return np.where(low < high, 0.0, low) + np.eye(len(low))[:, bands] @ place, rules
