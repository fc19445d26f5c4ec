"""What a fit says of a study: the formula, how close it is, and what of that is proven."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from functools import cached_property
from typing import TYPE_CHECKING, Literal

from reaccord.answer.amounts import amounts_of
from reaccord.answer.judge import Judgement
from reaccord.answer.rounding import bound_on_grid, proven_on_grid
from reaccord.answer.why.again import Again
from reaccord.answer.why.earned import earned
from reaccord.answer.why.holding import LetGo, let_go
from reaccord.answer.why.reason import Reason
from reaccord.contract import Answer, Budget, Programme, gap_of
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.programme import state

if TYPE_CHECKING:
    import pandas as pd

Ended = Literal["", "interrupted", "time"]
BOUND_SECONDS = 0.5
"""For the bound on what can be weighed, once the answer is there."""


@dataclass(frozen=True)
class Fit:
    """The answer to a study.

    `amounts` are gram by stock on the balance's grid, `judged` the independent judgement of them. `unrounded` is the
    closest formula before rounding and `judged_before` its judgement; `bound` is proven to be no larger than the
    deviation of any formula inside the limits that makes exactly the batch, amounts continuous. Bound, gap and status
    are of it. `shorter` is the judgement of the shorter formula that was rounded in its place, None where none was.
    `ended` says what cut the search short of what was asked, if anything did. `programme` is the study
    as it was stated.
    """

    study: Study
    amounts: Mapping[StockKey, float]
    unrounded: Mapping[StockKey, float]
    judged: Judgement
    judged_before: Judgement
    answer: Answer
    ended: Ended = ""
    shorter: Judgement | None = None
    programme: Programme | None = field(default=None, repr=False, compare=False)

    @property
    def rounded_from(self) -> Judgement:
        """What was rounded: the shorter formula where there is one, else the closest."""
        return self.shorter or self.judged_before

    @cached_property
    def holding(self) -> Mapping[LimitKey, bool]:
        """Whether letting go of a limit that the formula stands at makes a closer one; what is not known is not there.

        Solved for when first asked, within 0.4 seconds of the processor.
        """
        return {key: found.holds for key, found in self.let_go.items()}

    @cached_property
    def let_go(self) -> Mapping[LimitKey, LetGo]:
        """What letting go of each limit that the formula stands at does: solved once, for `holding` and `reasons`."""
        return let_go(self._again, self.judged.limits)

    @cached_property
    def reasons(self) -> Mapping[str, Reason]:
        """Why each row is off, by its label; a limit is named only where the row is nearer without it."""
        return earned(self._again, self.judged, self.judged_before, self.shorter, self.let_go)

    @cached_property
    def _again(self) -> Again:
        return Again(self.study, self.stated, self.answer)

    @cached_property
    def stated(self) -> Programme:
        """The study as a programme."""
        return self.programme or state(self.study)

    @property
    def bound(self) -> float:
        """The proven lower bound, never above the value before rounding."""
        return min(self.answer.bound, self.judged_before.closeness.value)

    @cached_property
    def rounded_bound(self) -> float:
        """The proven lower bound on what any formula on the balance's grid deviates, never above the value.

        Solved for when first asked, within half a second; a longer search might prove more.
        """
        programme, value = self.stated, self.judged.closeness.value
        if not (programme.step > 0).any():
            return min(self.bound, value)
        start = amounts_of(programme, self.study, self.unrounded)
        return min(bound_on_grid(programme, Budget(seconds=BOUND_SECONDS, start=start, warm=self.answer.warm)), value)

    @cached_property
    def steps_proven(self) -> bool:
        """Whether no other whole steps of the same lines are closer, proven."""
        return proven_on_grid(self.stated, amounts_of(self.stated, self.study, self.amounts))

    @property
    def gap(self) -> float:
        """Relative gap between the value before rounding and the bound."""
        return gap_of(self.judged_before.closeness.value, self.bound)

    @cached_property
    def formula(self) -> pd.DataFrame:
        """The formula as a frame: material, strength, carrier, lot, grams, share, cost."""
        from reaccord.report.frames import formula_frame

        return formula_frame(self.judged)

    @cached_property
    def residuals(self) -> pd.DataFrame:
        """The residuals as a frame: constituent, target, low, high, achieved, residual, scaled, reason."""
        from reaccord.report.frames import residual_frame

        return residual_frame(self.judged, self.reasons)

    def __repr__(self) -> str:
        wrong = f"{self.judged.closeness.misplaced_share:.1%} wrong"
        return f"<Fit of {self.study!r}: {len(self.judged.lines)} lines, {wrong}, {self.answer.status}>"

    def _repr_html_(self) -> str:
        from reaccord import as_html  # a room far above, resolved by the package's top when somebody looks

        return as_html(self)
