"""The cheapest formula that is close enough."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace

import numpy as np

from reaccord.answer.amounts import in_grams
from reaccord.answer.fit import as_printed, fit
from reaccord.answer.fitted import Fit
from reaccord.answer.formula import by_material
from reaccord.answer.judge import Judgement, empty_vial, judge
from reaccord.answer.rounding import round_amounts
from reaccord.answer.why.reason import Reason
from reaccord.answer.why.reasons import reasons
from reaccord.contract import Budget, FloatArray, Status
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula, SolverFault
from reaccord.programme import state
from reaccord.questions.axis import Cost, all_priced
from reaccord.questions.epsilon_constraint import (
    POLISHING,
    Ceilings,
    Columns,
    Least,
    allowed,
    least_within,
    relative_gap,
)
from reaccord.solvers.decide import decide

DEARER = (0.0, 1e-4, 3e-4, 1e-3, 3e-3, 1e-2, 3e-2)
"""Relative; how much dearer than the optimum rounding may become, tried in turn until the deviation is kept."""


@dataclass(frozen=True)
class Within:
    """A deviation, or so much above the closest formula's (0.05: five per cent)."""

    deviation: float | None = None
    above: float | None = None

    def of(self, closest: float) -> float:
        """Return the deviation allowed."""
        return closest * (1 + self.above) if self.above is not None else float(self.deviation or 0.0)


@dataclass(frozen=True)
class Change:
    """What changes in one material: gram of neat material, and what the batch costs less for it."""

    material: str
    from_g: float
    to_g: float
    saved: float


@dataclass(frozen=True)
class Spoilt:
    """A row that is farther off, or nearer, than in the closest formula: residuals and their scaled sizes."""

    constituent: str
    kind: str
    residual_before: float
    residual: float
    scaled_before: float
    scaled: float


@dataclass(frozen=True)
class Cheapest:
    """The answer: `amounts` gram by stock on the balance's grid, `unrounded` the optimum before rounding.

    `within` is the deviation allowed; `bound` is proven to be no larger than the cost per kg of any formula that
    holds it and every limit. `before` is what the optimum costs per kg, `nothing` the deviation of pouring nothing,
    `printed` what `fit` pours instead of the closest (`fit.shorten`).
    """

    study: Study
    closest: Fit
    printed: Fit
    within: float
    nothing: float
    amounts: Mapping[StockKey, float]
    unrounded: Mapping[StockKey, float]
    judged: Judgement
    judged_before: Judgement
    bound: float
    status: Status
    nodes: int
    seconds: float
    reasons: Mapping[str, Reason]

    @property
    def before(self) -> float:
        """Cost per kg before rounding."""
        return Cost().of(self.judged_before)

    @property
    def gap(self) -> float:
        """Relative gap between the cost before rounding and its bound."""
        return relative_gap(self.before, self.bound)

    @property
    def over(self) -> bool:
        """Whether rounding pushed the deviation over what is allowed."""
        return self.judged.closeness.value > allowed(self.within)

    @property
    def saved_per_kg(self) -> float:
        """What a kg costs less than the closest formula's."""
        return Cost().of(self.closest.judged) - Cost().of(self.judged)


def cheapest(study: Study, within: Within, budget: Budget | None = None) -> Cheapest:
    """Return the cheapest formula, per kg of accord, whose deviation is small enough.

    Parameters
    ----------
    study
        Its own limits stay, its own cost limit too.
    within
        A deviation, or a share above that of the closest formula (rounded, and never shortened for `fit.shorten`).
    budget
        Gap (of the cost) to stop at, default 0.1 %; seconds; a call that interrupts; progress, told of the cost.

    Raises
    ------
    InvalidInput
        If a bottle has no price.
    NoFormula
        If no formula is that close, or none holds all limits.
    NoAnswer
        If time ran out before any was found.
    """
    all_priced(study)
    deadline = (budget or Budget()).running()
    closest = fit(study, deadline.rest(), shorten=False)
    ceilings = Ceilings(study, Cost())
    most = within.of(closest.judged.closeness.value)
    start = _start(study, closest, most, deadline)
    began = replace(deadline, warm=closest.answer.warm)
    least = least_within(ceilings, most, start, began, deadline.progress)
    return _answer(closest, most, ceilings, least, deadline)


def _start(study: Study, closest: Fit, most: float, deadline: Budget) -> FloatArray:
    """Return amounts (n,) that are close enough: the closest formula's, or finer ones."""
    found = closest.answer.amounts
    assert found is not None
    if closest.answer.value <= allowed(most):
        return found
    answer = decide(state(study), allowed(most), deadline.rest(warm=closest.answer.warm), found)
    if answer.amounts is not None and answer.value <= allowed(most):
        return answer.amounts
    value, bound = min(closest.answer.value, answer.value), max(closest.bound, min(answer.bound, answer.value))
    if bound > allowed(most):
        raise NoFormula(
            f"No formula inside the limits has a deviation of {most:.6g} or less; the closest has {value:.6g}."
        )
    raise NoAnswer(
        f"No formula with a deviation of {most:.6g} or less was found; the closest found has {value:.6g}, and none "
        f"can have less than {bound:.6g}."
    )


def _answer(closest: Fit, most: float, ceilings: Ceilings, least: Least, deadline: Budget) -> Cheapest:
    study = closest.study
    unrounded = {s.key: float(x) for s, x in zip(study.stocks, least.amounts, strict=False) if x > 0}
    before = judge(study, unrounded, slack=1e-6)
    amounts = _rounded(ceilings, most, least, deadline)
    judged = judge(study, amounts)
    if judged.broken:
        raise SolverFault(f"the rounded formula breaks a limit: {judged.broken[0].label}")
    cost = Cost().of(before)
    bound = min(least.bound, cost)
    gap = relative_gap(cost, bound)
    return Cheapest(
        study=study,
        closest=closest,
        printed=as_printed(closest, deadline.rest()),
        within=most,
        nothing=empty_vial(study),
        amounts=amounts,
        unrounded=unrounded,
        judged=judged,
        judged_before=before,
        bound=bound,
        status="proven" if gap <= deadline.gap else "feasible",
        nodes=least.nodes + closest.answer.nodes,
        seconds=deadline.elapsed(),
        reasons=reasons(study, judged),
    )


def _rounded(ceilings: Ceilings, most: float, least: Least, deadline: Budget) -> dict[StockKey, float]:
    """Return amounts on the grid: the first that keep the deviation at a cost hardly higher, else the closest.

    Cost and deviation both bind at the optimum, so that rounding needs room in one of them: the cost.
    """
    study, best = ceilings.study, None
    for amounts in _candidates(ceilings, least, deadline):
        found = in_grams(study.stocks, amounts)
        value = judge(study, found).closeness.value
        if best is None or value < best[0]:
            best = value, found
        if value <= allowed(most):
            break
    if best is None:
        raise NoAnswer(
            "A formula exists, but none was found whose amounts are whole steps of the balance and hold every "
            "limit. A finer readability, a larger batch or a looser limit makes way."
        )
    return best[1]


def _candidates(ceilings: Ceilings, least: Least, deadline: Budget) -> Iterator[FloatArray]:
    """Yield formulas on the grid, each a little dearer than the one before, with the best formula's stocks."""
    study, columns = ceilings.study, Columns(ceilings, least.amounts)
    own = ceilings.axis.own(study)
    for dearer in DEARER:
        ceiling = least.quantity * (1 + dearer)
        ceiling = ceiling if own is None else min(ceiling, own)
        amounts = least.amounts
        if dearer > 0:
            answer = decide(columns.at(ceiling), 0.0, Budget(deadline.gap, POLISHING))
            if answer.amounts is None:
                continue
            amounts = columns.whole(answer.amounts)
        rounded = round_amounts(ceilings.at(ceiling), amounts)
        if rounded is not None:
            yield rounded


def changes(found: Cheapest) -> list[Change]:
    """Return what changes against the closest formula, by material, what saves most first."""
    before, after = by_material(found.closest.judged), by_material(found.judged)
    rows = []
    for material in sorted(before.keys() | after.keys()):
        old, new = before.get(material, (0.0, 0.0)), after.get(material, (0.0, 0.0))
        if not np.isclose(old[0], new[0], rtol=0.0, atol=1e-12):
            rows.append(Change(material, old[0], new[0], old[1] - new[1]))
    return sorted(rows, key=lambda change: (-change.saved, change.material))


def spoilt(found: Cheapest) -> list[Spoilt]:
    """Return every row that moved, what it spoilt most (by scaled residual) first."""
    before = {r.row.label: r for r in found.closest.judged.residuals}
    rows = [
        Spoilt(r.row.label, r.kind, before[r.row.label].residual, r.residual, before[r.row.label].scaled, r.scaled)
        for r in found.judged.residuals
    ]
    moved = [row for row in rows if row.residual != row.residual_before]
    return sorted(moved, key=lambda row: (abs(row.scaled_before) - abs(row.scaled), row.constituent))
