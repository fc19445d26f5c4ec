"""What one tab's process does: the answer to each setting of the handles, in the order in which it is wanted.

First a formula, rounded and judged, some milliseconds after the move; then the closest, proven; then why; and while the
hands rest what would help and the curve. A newer setting ends whatever the older one is at.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping
from dataclasses import dataclass, field, replace

from reaccord.answer.amounts import in_grams
from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.rounding import quickly_rounded
from reaccord.answer.why.again import Again
from reaccord.answer.why.earned import earned
from reaccord.answer.why.holding import LetGo, let_go
from reaccord.answer.why.reason import Reason
from reaccord.answer.why.reasons import reasons
from reaccord.contract import Budget, FloatArray, Programme, gap_of
from reaccord.desk.moves import Moves, follow
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula, UsageError
from reaccord.programme import restate, state
from reaccord.questions.frontier import frontier
from reaccord.questions.prices.run import prices
from reaccord.report.curve_picture import Curve, curve
from reaccord.report.notes import notes_on, with_notes
from reaccord.report.prices import helps
from reaccord.report.quantities import rough_percent
from reaccord.report.result_page import figures_of
from reaccord.report.verdict import FOUND, KNOWN, certainty_word, shorter_text, standing, verdict_text

REST = 0.8
"""Seconds without a move after which hands are said to rest."""
AGAIN = 0.25
"""Seconds between two formulas told of one search, and between two of its bounds."""
POINTS = 8
"""Of the curve."""


@dataclass(frozen=True)
class Job:
    """A setting of the handles to answer; numbers rise."""

    number: int
    moves: Moves


@dataclass(frozen=True)
class Answered:
    """A formula, rounded and judged; `certainty` is "proven" or how it stands until then."""

    number: int
    judged: Judgement
    amounts: Mapping[StockKey, float]
    verdict: str
    certainty: str
    reasons: Mapping[str, Reason]
    holding: Mapping[LimitKey, bool] = field(default_factory=dict)
    figures: str = ""
    shorter: tuple[str, ...] = ()


@dataclass(frozen=True)
class NoneFits:
    """There is no formula, or none is known; the sentence says why."""

    number: int
    why: str


@dataclass(frozen=True)
class Helping:
    """What would help: rows of what is moved and what is wrong then; what was not asked."""

    number: int
    rows: tuple[tuple[str, str, str], ...]
    notes: tuple[str, ...]


@dataclass(frozen=True)
class Curved:
    """The curve of closeness and cost; None where a bottle has no price, or there is none."""

    number: int
    curve: Curve | None


Message = Answered | NoneFits | Helping | Curved
Send = Callable[[Message], None]
Newer = Callable[[float], bool]
"""Whether something newer is wanted, waiting so many seconds for it."""


class Answering:
    """Answers the settings of one study's handles one after the other, each from the one before."""

    def __init__(self, study: Study, send: Send, newer: Newer) -> None:
        self._at: tuple[Study, Moves] = study, {}  # one thing: it may be broken off between any two
        self._fit: Fit | None = None
        self._send, self._newer = send, newer

    def answer(self, job: Job) -> None:
        """Answer one setting, all that is asked of it unless a newer one comes; it may be broken off anywhere."""
        study = follow(*self._at, job.moves)
        self._at = study, dict(job.moves)
        try:
            found = self._closest(job, study)
        except (NoFormula, NoAnswer, InvalidInput) as fault:
            if not self._stop():
                self._send(NoneFits(job.number, str(fault)))
            return
        if self._stop() and found.answer.status != "proven":
            return
        self._fit = found
        told = self._told(job, found)
        self._send(told)
        explained = None if self._stop() else self._explained(told, found)
        if explained is not None:
            said, solved = explained
            self._send(said)
            if not self._newer(REST):
                self._rest(job, found, solved)

    def _stop(self) -> bool:
        return self._newer(0.0)

    def _closest(self, job: Job, study: Study) -> Fit:
        before = self._fit
        known = None if before is None else before.programme
        stated = state(study) if before is None or known is None else restate(known, before.study, study)
        telling = _Telling(job, study, stated, self._send)
        budget = Budget(stop=self._stop, found=telling.found, progress=telling.progress)
        return fit(study, budget, stated, before=before)

    def _told(self, job: Job, found: Fit) -> Answered:
        certain, verdict = certainty_word(found), with_notes(verdict_text(found, marked=True), notes_on(found))
        why, shorter = reasons(found.study, found.judged), tuple(shorter_text(found))
        return Answered(job.number, found.judged, found.amounts, verdict, certain, why, shorter=shorter)

    def _explained(self, told: Answered, found: Fit) -> tuple[Answered, Mapping[LimitKey, LetGo]] | None:
        """Return the answer with what holds it back, and that; None where something newer came."""
        again = Again(found.study, found.stated, found.answer, self._stop)
        solved = let_go(again, found.judged.limits)
        why = earned(again, found.judged, found.judged_before, found.shorter, solved)
        if self._stop():
            return None
        holding = {key: each.holds for key, each in solved.items()}
        return replace(told, reasons=why, holding=holding, figures=figures_of(found)), solved

    def _rest(self, job: Job, found: Fit, solved: Mapping[LimitKey, LetGo]) -> None:
        budget = Budget(stop=self._stop)
        rows, notes = helps(prices(found, budget, solved), found.judged)
        if self._stop():
            return
        self._send(Helping(job.number, tuple(rows), tuple(notes)))
        try:
            drawn = curve(frontier(found.study, "cost", budget, points=POINTS))
        except (NoFormula, NoAnswer, InvalidInput, UsageError):
            drawn = None
        if not self._stop():
            self._send(Curved(job.number, drawn))


class _Telling:
    """Tells of formulas while they are searched for: rounded and judged, no more often than an eye follows."""

    def __init__(self, job: Job, study: Study, stated: Programme, send: Send) -> None:
        self._job, self._study, self._stated, self._send = job, study, stated, send
        self._told: Answered | None = None
        self._at = -AGAIN

    def found(self, amounts: FloatArray) -> None:
        """Tell of a formula, unless one was told of just now."""
        if time.monotonic() - self._at < AGAIN:
            return
        rounded = quickly_rounded(self._stated, amounts)
        if rounded is None:
            return
        grams = in_grams(self._study.stocks, rounded)
        judged = judge(self._study, grams)
        if judged.broken:
            return
        why = reasons(self._study, judged)
        self._tell(Answered(self._job.number, judged, grams, f"{standing(judged)}.", FOUND[""], why))

    def progress(self, value: float, bound: float, nodes: int) -> None:
        """Tell how much closer one could be, of the last formula told of."""
        del nodes
        gap = gap_of(value, bound)
        if self._told is not None and gap < KNOWN and time.monotonic() - self._at >= AGAIN:
            said = f"{standing(self._told.judged)}; nothing can be more than {rough_percent(gap)} closer."
            self._tell(replace(self._told, verdict=said))

    def _tell(self, told: Answered) -> None:
        self._at, self._told = time.monotonic(), told
        self._send(told)
