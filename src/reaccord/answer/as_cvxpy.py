"""A study as a cvxpy problem, for those who want to ask something of their own."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from reaccord.answer.judge import Judgement, judge
from reaccord.answer.limits_held import LimitState
from reaccord.domain.study import Study
from reaccord.names.key import did_you_mean, nearest
from reaccord.programme import state
from reaccord.solvers.statement import by_stock_alone, statement

HALF = 0.5
"""A switch is 0 or 1 to a solver's tolerance."""
NOISE = 1e-6
"""Of the batch; solvers keep a bound to a tolerance, so that nothing may come out as a little less than nothing."""


@dataclass(frozen=True)
class CvxpyStudy:
    """A study's programme in cvxpy; everything is found by the names that people read.

    problem
        The `cvxpy.Problem`: `measure` of the scaled residuals, amounts in gram. Any solver for it will do that takes
        switches where `used` holds any (squares: mixed-integer quadratic; absolute, worst: mixed-integer linear).
    grams, used
        By stock (`Citronellol 95`, `Rose oxide 10 % in dipropylene glycol`): the gram poured, and 1 where it is poured.
    achieved
        By row of the target: the share reached, a fraction of the basis.
    constraints
        By name (`batch`, `cost`, `Geranium base at least`): all constraints of the problem. A limit on grams is divided
        by about what it allows, so that a solver's tolerance is a part of that.
    """

    study: Study
    problem: Any
    grams: Mapping[str, Any]
    used: Mapping[str, Any]
    achieved: Mapping[str, Any]
    constraints: Mapping[str, Any]

    def having(self, *more: Any) -> Any:
        """Return the problem with more constraints; what it finds is read from `amounts` as well."""
        return type(self.problem)(self.problem.objective, [*self.problem.constraints, *more])

    def without(self, *names: str) -> Any:
        """Return the problem without the constraints of these names.

        Raises
        ------
        KeyError
            If no constraint is called so.
        """
        left_out = {self.constraints[name].id for name in names}
        kept = [rule for rule in self.problem.constraints if rule.id not in left_out]
        return type(self.problem)(self.problem.objective, kept)

    def amounts(self) -> dict[str, float]:
        """Return the gram by stock that the last solution pours; what is switched off is left out.

        Raises
        ------
        ValueError
            If nothing was solved, or nothing was found.
        """
        found = {}
        for label, grams in self.grams.items():
            if grams.value is None:
                raise ValueError("nothing was solved yet, or there is no solution")
            used = self.used[label]
            on = float(used if isinstance(used, float) else used.value) > HALF
            if on and grams.value > 0:
                found[label] = float(grams.value)
        return found


def as_cvxpy(study: Study) -> CvxpyStudy:
    """Return the programme of a study as a cvxpy problem with named variables and named constraints.

    A bottle is bounded by what is on hand and by the batch; one that neither bounds, by a hundred batches.
    """
    programme = state(study)
    said = statement(programme, by_stock_alone(programme))
    labels = [stock.label for stock in study.stocks]
    return CvxpyStudy(
        study=study,
        problem=said.problem,
        grams=dict(zip(labels, said.amounts, strict=False)),
        used={label: _entry(said.used, i) for i, label in enumerate(labels)},
        achieved={row: said.achieved[k] for k, row in enumerate(programme.rows)},
        constraints=said.constraints,
    )


def _entry(used: Any, i: int) -> Any:
    return float(used[i]) if isinstance(used, np.ndarray) else used[i]


def judge_amounts(study: Study, amounts: Mapping[str, float], *, tolerance: float = 2e-6) -> Judgement:
    """Judge what a solver of your own gives, by code that shares nothing with the programme.

    Parameters
    ----------
    study
        The study.
    amounts
        Gram poured by the name of the stock, as `CvxpyStudy.amounts` gives them: off the grid of the balance.
    tolerance
        Relative; a limit passed by less counts as held, for solvers keep limits to a tolerance.

    Raises
    ------
    ValueError
        If no stock is called so, an amount is no number or negative, or nothing of the target is poured.
    """
    keys = {stock.label: stock.key for stock in study.every_stock}
    unknown = next((label for label in amounts if label not in keys), None)
    if unknown is not None:
        raise ValueError(f'no stock is called "{unknown}".{did_you_mean(nearest(unknown, keys))}')
    for label, grams in amounts.items():
        if not -NOISE * study.settings.batch.accord_g <= grams < math.inf:
            raise ValueError(f"{label}: {grams} is no gram that can be poured.")
    judged = judge(study, {keys[label]: grams for label, grams in amounts.items()})
    limits = (_within(state, tolerance) for state in judged.limits if state.key.kind != "steps")
    return replace(judged, limits=tuple(limits))


def _within(state: LimitState, tolerance: float) -> LimitState:
    over = state.value - state.limit if state.sense == "at most" else state.limit - state.value
    return state._replace(held=state.held or over <= tolerance * max(abs(state.limit), abs(state.value), tolerance))
