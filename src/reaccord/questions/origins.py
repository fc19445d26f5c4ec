"""Two samples of a target side by side: what tells them apart, one base for both, and what each takes besides."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np

from reaccord.answer.amounts import in_grams
from reaccord.answer.fit import as_printed, fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import Judgement, judge
from reaccord.answer.rounding import round_amounts
from reaccord.contract import Answer, Budget, FloatArray, Status, standing
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.findings import NoAnswer, NoFormula
from reaccord.questions.two_accords import TwoAccords, two_accords
from reaccord.solvers.choose import solve
from reaccord.study.changed import with_samples

HELD = 1e-6
"""Relative; what rounding may pass a limit on both accords together by: noise."""
MORE = 4 / 3
"""Times the lines of the longer formula alone: with no more than it has there would hardly be a tail."""
ALONE = 0.25
"""Of the seconds: for each sample's own closest formula."""


@dataclass(frozen=True)
class Compared:
    """A row of the target in both samples: shares of the target's own constituents, None where it is no row."""

    constituent: str
    first: float | None
    second: float | None

    @property
    def difference(self) -> float:
        """The second less the first."""
        return (self.second or 0.0) - (self.first or 0.0)


@dataclass(frozen=True)
class Accord:
    """One sample: what it takes besides the base, gram by stock; base and tail judged together; the closest alone.

    `printed` is what `fit` pours instead of the closest alone (`fit.shorten`).
    """

    sample: str
    study: Study
    tail: Mapping[StockKey, float]
    judged: Judgement
    alone: Fit
    printed: Fit


@dataclass(frozen=True)
class Origins:
    """`base` are gram by stock in each of both accords; `value`, `bound` are of both together before rounding.

    The deviations of both are added up; of the measure `worst` it is the worse one.
    """

    study: Study
    rows: tuple[Compared, ...]
    base: Mapping[StockKey, float]
    accords: tuple[Accord, Accord]
    lines: int
    value: float
    bound: float
    status: Status
    nodes: int


def origins(study: Study, samples: tuple[str, str], lines: int | None = None, budget: Budget | None = None) -> Origins:
    """Return one base for two samples and the tail of each.

    Parameters
    ----------
    study
        Read with both samples; every limit holds for each accord, what is on hand for both.
    samples
        Two different ones.
    lines
        At most so many in the base and both tails together; None: a third more than the longer of the two closest
        formulas has.
    budget
        Gap; seconds for all of it; a call that interrupts.

    Raises
    ------
    ValueError
        If a sample was not read.
    NoFormula, NoAnswer
        If there is no such pair of formulas, or none in time.
    """
    deadline = (budget or Budget()).running()
    one, other = with_samples(study, samples[:1]), with_samples(study, samples[1:])
    alone = [fit(each, deadline.rest(ALONE), shorten=False) for each in (one, other)]
    most = lines or math.ceil(MORE * max(len(each.judged.lines) for each in alone))
    both = two_accords(one, other, most)
    answer = solve(both.programme, deadline.rest(progress=deadline.progress))
    if answer.amounts is None:
        raise _nothing(answer, most)
    base, *tails = _weighed(both, one, answer)
    accords = []
    for sample, each, tail, own in zip(samples, (one, other), tails, alone, strict=True):
        poured = {key: base.get(key, 0.0) + tail.get(key, 0.0) for key in (*base, *tail)}
        accords.append(Accord(sample, each, tail, judge(each, poured), own, as_printed(own, deadline.rest())))
    bound = min(answer.bound, answer.value)
    return Origins(
        study=study,
        rows=compared(one, other),
        base=base,
        accords=(accords[0], accords[1]),
        lines=most,
        value=answer.value,
        bound=bound,
        status=standing(answer.value, bound, deadline.gap),
        nodes=answer.nodes,
    )


def compared(first: Study, second: Study) -> tuple[Compared, ...]:
    """Return the named rows of both, what differs most first."""
    shares = [{row.label: row.share for row in s.target.rows if row.kind == "named"} for s in (first, second)]
    labels = sorted(shares[0].keys() | shares[1].keys())
    rows = [Compared(label, shares[0].get(label), shares[1].get(label)) for label in labels]
    return tuple(sorted(rows, key=lambda row: (-round(abs(row.difference), 12), row.constituent)))


def shared(both: TwoAccords, found: FloatArray) -> FloatArray:
    """Return amounts (n,) in which what both tails pour of a stock is in the base, where every limit lets it be."""
    n, noise = both.stocks, max(both.programme.excess(found), 1e-9)
    for i in range(n):
        common = min(found[n + i], found[2 * n + i])
        if common > 0:
            moved = found.copy()
            moved[[n + i, 2 * n + i]] -= common
            moved[i] += common
            moved = np.where(moved <= 1e-12 * both.programme.batch_g, 0.0, moved)
            found = moved if both.programme.excess(moved) <= noise else found
    return found


def _weighed(both: TwoAccords, study: Study, answer: Answer) -> tuple[dict[StockKey, float], ...]:
    """Return base and tails on the grid, gram by stock."""
    found = shared(both, answer.formula)
    poured = found[: 3 * both.stocks]
    programme = both.weighable(found)
    rounded = round_amounts(programme, poured)
    if rounded is None or not _held(both, found, rounded):
        raise NoAnswer(
            "A base and tails exist, but none were found whose amounts are whole steps of the balance and hold every "
            "limit. A finer readability, a larger batch or a looser limit makes way."
        )
    return tuple(in_grams(study.stocks, part) for part in both.parts(rounded))


def _held(both: TwoAccords, found: FloatArray, rounded: FloatArray) -> bool:
    """Whether grams on hand suffice for rounded amounts with all dilutions made, no less of any than can be made."""
    n, whole = both.stocks, found.copy()
    whole[: 3 * n] = rounded
    for made in both.programme.made:
        parts = rounded[[made.stock, n + made.stock, 2 * n + made.stock]]
        whole[made.column] = max(2 * parts[0] + parts[1] + parts[2], made.least_g if parts.any() else 0.0)
    shared = [row for row in both.programme.limits if row.key.kind == "on hand"]
    return all(float(row.amounts @ whole) <= row.most + HELD * max(abs(row.most), 1e-9) for row in shared)


def _nothing(answer: Answer, lines: int) -> NoFormula | NoAnswer:
    if answer.status == "infeasible":
        few = f"{lines} line{'s' * (lines != 1)} in all"
        return NoFormula(f"No base and tails with {few} hold every limit for both samples. --lines allows more.")
    return NoAnswer()
