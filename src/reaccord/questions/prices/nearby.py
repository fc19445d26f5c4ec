"""Formulas of studies near one that is solved: each found from the answer at hand, and told as `fit` would tell it."""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, replace
from typing import NamedTuple

from reaccord.answer.amounts import amounts_of
from reaccord.answer.fit import finished
from reaccord.answer.fitted import Fit
from reaccord.contract import Answer, Budget, Programme
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.programme import restate
from reaccord.solvers.choose import solve
from reaccord.solvers.decide import decide

NODES = 60
"""Of the search for one formula: what is told should not hang on what else the machine does."""
ROOT = 1
"""No more than what a search comes to before it splits anything."""
SECONDS, SOON = 1.0, 0.5
"""Of the processor, for one formula and for what comes before any split: large studies, whose nodes take long."""

Change = Callable[[], Study]


@dataclass(frozen=True)
class Found:
    """A formula of a changed study: its deviation and how much of it is wrong, from rounded amounts."""

    value: float
    misplaced_share: float
    proven: bool

    @staticmethod
    def of(found: Fit) -> Found:
        """Return what is told of a formula."""
        close = found.judged.closeness
        return Found(close.value, close.misplaced_share, found.answer.status == "proven")


class Solved(NamedTuple):
    """A changed study, its programme, and an answer that has amounts."""

    study: Study
    programme: Programme
    answer: Answer


class Nearby:
    """Solves studies near one that is solved, within a budget."""

    def __init__(self, found: Fit, budget: Budget) -> None:
        self.found, self.budget = found, budget
        self.value = found.judged_before.closeness.value
        self.shown = found.judged.closeness.value

    @property
    def least(self) -> float:
        """The relative gain that shows whatever the search leaves open and `fit` gives up for a shorter formula."""
        return self.budget.gap + self.found.study.settings.fit.shorten

    def gains(self, value: float) -> bool:
        """Whether a deviation before rounding is lower by what shows."""
        return value < self.value * (1 - self.least)

    def shows(self, found: Fit, least: float = 0.0) -> bool:
        """Whether a formula is closer as it is told, by more than this part."""
        return found.judged.closeness.value < self.shown * (1 - least)

    def reach(self, change: Change, wanted: float) -> tuple[float, Mapping[StockKey, float] | None]:
        """Return the least deviation that is soon found, and the formula if it is as low as `wanted`."""
        try:
            study = change()
        except InvalidInput:
            return self.value, None
        programme = self._stated(study)
        start = amounts_of(programme, study, self.found.unrounded)
        said = decide(programme, wanted, self._counted(ROOT), start)
        if said.amounts is None or said.value > wanted:
            return min(said.value, self.value), None
        return said.value, dict(zip((s.key for s in study.stocks), map(float, said.amounts), strict=False))

    def solved(
        self,
        change: Change,
        start: Mapping[StockKey, float] | None = None,
        known: Answer | None = None,
        nodes: int = NODES,
    ) -> Solved | None:
        """Return a changed study solved, from grams by stock; None where there is no formula, or none in time.

        `known` is an answer to it, taken if its columns are the study's.
        """
        try:
            study = change()
        except InvalidInput:
            return None
        programme = self._stated(study)
        if known is None or known.amounts is None or len(known.amounts) != len(programme.columns):
            begun = amounts_of(programme, study, self.found.unrounded if start is None else start)
            known = solve(programme, replace(self._counted(nodes), start=begun))
        return None if known.amounts is None else Solved(study, programme, known)

    def finished(self, solved: Solved | None) -> Fit | None:
        """Return the fit of a changed study that is solved; None where it cannot be weighed."""
        try:
            return None if solved is None else finished(*solved, self.budget.rest(), soon=self.least)
        except (NoFormula, NoAnswer):
            return None

    def _stated(self, study: Study) -> Programme:
        return restate(self.found.stated, self.found.study, study)

    def _counted(self, nodes: int) -> Budget:
        """Return a budget of so many nodes."""
        budget, seen = self.budget, 0
        end = time.process_time() + (SOON if nodes == ROOT else SECONDS)

        def told(value: float, bound: float, sofar: int) -> None:
            nonlocal seen
            seen = sofar

        def stop() -> bool:
            return seen >= nodes or time.process_time() > end or budget.stop()

        return replace(budget.rest(progress=told, warm=self.found.answer.warm), stop=stop)
