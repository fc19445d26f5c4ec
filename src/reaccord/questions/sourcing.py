"""Which bottles to buy next: each that could be bought solved for, then the best few together.

Every programme is that of the shelf with all that is offered, over the columns of those that are bought. An offer is
let go as soon as its bound says that it gains nothing, or that no formula with it comes among the `LISTED` best:
formulas that are known for the others say how close those are at least.
"""

from __future__ import annotations

import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from reaccord.answer.amounts import amounts_of, in_grams, with_made
from reaccord.answer.fewer_lines import HELD
from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import judge
from reaccord.answer.rounding import closest_on_grid, round_amounts
from reaccord.answer.why import conflict
from reaccord.contract import Answer, Budget, FloatArray, LimitRow, Programme, Status, standing
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.stock import StockKey
from reaccord.findings import NoAnswer, NoFormula
from reaccord.programme import state
from reaccord.questions.sourced import Poured, Purchase, Ranked, Sourcing
from reaccord.solvers.choose import solve
from reaccord.solvers.decide import NEVER, decide
from reaccord.solvers.on_columns import closest_on
from reaccord.study.offered import Offer, Offered

LISTED = 10
"""Offers whose deviation is solved for to the end; of the others it is known that they come behind."""
Told = Callable[[int, int], None]


def sourcing(
    offered: Offered, most: int = 3, budget: Budget | None = None, told: Told | None = None, *, listed: int = LISTED
) -> Sourcing:
    """Return which bottles help most, one by one and together.

    Parameters
    ----------
    offered
        A study and what could be bought beside its shelf (`study.offered`).
    most
        How many purchases together, 1 at least.
    budget
        Gap of each search; seconds for all of it; a call that interrupts.
    told
        Is told of searches done, and of how many there are.
    listed
        How many of the offers, best first, are solved for to the end.

    Raises
    ------
    NoFormula, NoAnswer
        If there is no formula whatever is bought, or none in time.
    """
    return _Sourcing(offered, (budget or Budget()).running(), told, listed).run(most)


def promising(offered: Offered, now: Answer, grams: Mapping[StockKey, float], budget: Budget) -> list[Offer]:
    """Return the offers, the most promising first: by the shelf's answer with a little of each poured in, a line more.

    `now` is the answer of the shelf, or of one a little changed, and `grams` its formula by stock.
    """
    asked = _Sourcing(offered, budget.running(), None, LISTED)
    lines = LimitKey("lines")
    asked.pour(replace(asked.programme, limits=tuple(row for row in asked.programme.limits if row.key != lines)))
    amounts = with_made(asked.programme, amounts_of(asked.programme, offered.study, grams))
    now = replace(now, amounts=amounts[asked.shelf])
    return sorted(asked.offers, key=lambda offer: (asked.start(offer, now)[0], offer.key))


class _Sourcing:
    """The searches of one question, on the columns of one programme."""

    def __init__(self, offered: Offered, deadline: Budget, told: Told | None, listed: int) -> None:
        self.offered, self.deadline, self.told, self.listed = offered, deadline, told, listed
        self.pour(state(offered.study))
        self.columns = _columns(offered, self.programme)
        self.offers = [offer for offer in offered.offers if not offer.aside]
        bought = {i for columns in self.columns.values() for i in columns}
        self.shelf = np.array([i for i in range(len(self.programme.columns)) if i not in bought], dtype=np.intp)
        self.done = self.searches = 0
        self.now: Answer | None = None

    def pour(self, programme: Programme) -> None:
        """Take the programme of the shelf and everything offered."""
        self.programme, self.closest = programme, closest_on(programme)

    def run(self, most: int) -> Sourcing:
        most = min(most, len(self.offers))
        self.searches = 1 + len(self.offers) + max(most - 1, 0)
        now = self.now = self._search(self.shelf, None)
        printed = None if now.amounts is None else self._printed()
        ranked = self._ranked(now)
        best, every = self._together(ranked, most)
        answers = [poured for poured in (*(one.poured for one in ranked), *(one.poured for one in best)) if poured]
        shelf = self._poured(self.shelf, now) if now.amounts is not None else None
        if shelf is None and not answers:
            if now.status == "infeasible":
                raise NoFormula(conflict.explain(self.offered.shelf, state(self.offered.shelf)))
            raise NoAnswer()
        decided = now.status in ("proven", "infeasible") and all(one.poured or one.skipped for one in ranked)
        proven = decided and every and all(poured.status == "proven" for poured in answers)
        status: Status = "proven" if proven else "feasible"
        return Sourcing(self.offered, shelf, printed, tuple(ranked), tuple(best), most, status, self.deadline.gap)

    def _printed(self) -> Fit | None:
        """Return what `fit` prints of the shelf as it is."""
        try:
            return fit(self.offered.shelf, self.deadline.rest())
        except (NoAnswer, NoFormula):  # time was short, or no steps of the balance make one
            return None

    def with_offers(self, offers: Iterable[Offer]) -> NDArray[np.intp]:
        """Return the columns of the shelf and of these offers, sorted."""
        return np.sort(np.concatenate([self.shelf, *(self.columns[offer] for offer in offers)]).astype(np.intp))

    def _ranked(self, now: Answer) -> list[Ranked]:
        """Return the offers: the most promising is solved for first, so that the others can be let go sooner."""
        starts = {offer: self.start(offer, now) for offer in self.offers}
        at_most = {offer: value for offer, (value, _) in starts.items()}
        gains = now.value * (1 - self.deadline.gap)
        found = []
        for offer in sorted(self.offers, key=lambda offer: (at_most[offer], offer.key)):
            listed = sorted(at_most.values())[: self.listed]
            worth = min(listed[-1] if len(listed) == self.listed else math.inf, gains)
            answer = 0.0 if self.deadline.over() else self._with(offer, starts[offer], worth)
            if isinstance(answer, Answer):
                at_most[offer] = min(at_most[offer], answer.value)
            found.append((offer, answer))
        return sorted((self._judged(*each) for each in found), key=_rank)

    def _with(self, offer: Offer, start: tuple[float, FloatArray | None], worth: float) -> Answer | float:
        """Return the answer with an offer, or a bound above what would be `worth` listing."""
        answer = self._search(self.with_offers([offer]), start[1], worth)
        return answer.bound if answer.bound > worth or answer.status == "infeasible" else answer

    def _judged(self, offer: Offer, answer: Answer | float) -> Ranked:
        """Return an offer with its formula rounded; without one where others are proven to come before it."""
        if not isinstance(answer, Answer):
            return Ranked(offer, None, answer)
        poured = None if answer.amounts is None else self._poured(self.with_offers([offer]), answer)
        return Ranked(offer, poured, answer.bound)

    def start(self, offer: Offer, now: Answer) -> tuple[float, FloatArray | None]:
        """Return a formula (n,) with an offer, and its deviation: the shelf's with it poured in, or the shelf's own."""
        if now.amounts is None or self.deadline.over():
            return now.value, None
        best, value = np.zeros(len(self.programme.columns)), now.value
        best[self.shelf] = now.amounts
        shelf = best > 0
        for column in self.columns[offer]:
            if column < len(self.offered.study.stocks):
                on = shelf.copy()
                on[column] = True
                amounts = self.closest(on, value)
                if amounts is not None:
                    best, value = amounts, self.programme.value(amounts)
        return value, best[self.with_offers([offer])]

    def _search(self, kept: NDArray[np.intp], start: FloatArray | None, worth: float = math.inf) -> Answer:
        budget = self.deadline.rest(warm=self.now.warm if self.now else None)
        answer = decide(self.programme.only(kept), NEVER, budget, start, worth=worth, gap=self.deadline.gap)
        self._tell()
        return answer

    def _together(self, ranked: Sequence[Ranked], most: int) -> tuple[list[Purchase], bool]:
        """Return the best one, two, three ... purchases that gain; whether every number of them was decided.

        One programme has all of them as columns, and so many of them may be used.
        """
        found: list[Purchase] = []
        every, everything = True, np.arange(len(self.programme.columns))
        first = next((one for one in ranked if one.poured is not None), None)
        value, start = (math.inf, None) if self.now is None else (self.now.value, self._whole(self.now))
        if most and first is not None and first.poured is not None and self._gains(first.poured.value, value):
            found.append(Purchase(1, (first.offer,), first.poured))
            value, start = first.poured.value, None
        for count in range(2, most + 1):
            answer = None if self.deadline.over() else solve(self.at_most(count), self.deadline.rest(start=start))
            self._tell()
            if answer is None or answer.status not in ("proven", "infeasible"):
                every = False
            if answer is None or answer.amounts is None:
                continue
            offers, kept = self._needed(answer)
            if not self._gains(kept.value, value):
                continue
            found = [one for one in found if one.count < len(offers)]
            found.append(Purchase(len(offers), offers, self._poured(everything, kept, self.at_most(len(offers)))))
            value, start = kept.value, kept.amounts
        return found, every

    def _gains(self, value: float, before: float) -> bool:
        """Whether a deviation is less than another by more than what is proven."""
        return value < before * (1 - self.deadline.gap)

    def _whole(self, now: Answer) -> FloatArray | None:
        """Return what the shelf alone allows over all columns (n,)."""
        whole = np.zeros(len(self.programme.columns))
        if now.amounts is None:
            return None
        whole[self.shelf] = now.amounts
        return whole

    def _needed(self, answer: Answer) -> tuple[tuple[Offer, ...], Answer]:
        """Return what is bought, and the answer, without purchases that it is as close without: within the gap."""
        amounts = answer.formula
        most = max(answer.value * (1 + 1e-9), answer.bound / (1 - self.deadline.gap) if self.deadline.gap < 1 else 0.0)
        noise = max(self.programme.excess(amounts), HELD)
        for offer in sorted(self._bought(amounts), key=lambda each: float(amounts[self.columns[each]].sum())):
            on = amounts > 0
            on[self.columns[offer]] = False
            less = self.closest(on)
            if less is not None and self.programme.value(less) <= most and self.programme.excess(less) <= noise:
                amounts = less
        return self._bought(amounts), replace(answer, amounts=amounts, value=self.programme.value(amounts))

    def _bought(self, amounts: FloatArray) -> tuple[Offer, ...]:
        """Return the offers that amounts (n,) pour."""
        return tuple(offer for offer in self.offers if (amounts[self.columns[offer]] > 0).any())

    def at_most(self, count: int) -> Programme:
        """Return the programme with everything offered, at most so many of which are bought."""
        used = np.zeros(len(self.programme.columns))
        stocks = len(self.offered.study.stocks)
        used[[i for offer in self.offers for i in self.columns[offer] if i < stocks]] = 1.0
        label = f"at most {count} bought"
        row = LimitRow(LimitKey("lines", ("bought",)), label, label, np.zeros(len(used)), used, count)
        return replace(self.programme, limits=(*self.programme.limits, row))

    def _poured(self, kept: NDArray[np.intp], answer: Answer, programme: Programme | None = None) -> Poured:
        """Return an answer rounded to the balance and judged; as it is where no amounts on the grid are found."""
        programme = programme or self.programme.only(kept)
        rounded = round_amounts(programme, answer.formula)
        if rounded is None:
            rounded = closest_on_grid(programme, answer.formula, self.deadline)
        whole = np.zeros(len(self.programme.columns))
        whole[kept] = answer.formula if rounded is None else rounded
        judged = judge(self.offered.study, in_grams(self.offered.study.stocks, whole))
        bound = min(answer.bound, answer.value)
        return Poured(judged, answer.value, bound, standing(answer.value, bound, self.deadline.gap))

    def _tell(self) -> None:
        self.done += 1
        if self.told is not None:
            self.told(self.done, self.searches)


def _columns(offered: Offered, programme: Programme) -> dict[Offer, list[int]]:
    """Return the columns of each offer: the bottle, the dilutions made from it, the grams made of those."""
    by_key = {offer.key: offer for offer in offered.offers}
    found: dict[Offer, list[int]] = {offer: [] for offer in offered.offers}
    made = {each.stock: each.column for each in programme.made}
    for i, stock in enumerate(offered.study.stocks):
        key = stock.recipe.source if stock.recipe is not None else stock.key
        if key in by_key:
            found[by_key[key]] += [i, *([made[i]] if i in made else [])]
    return found


def _rank(one: Ranked) -> tuple[float, float, str]:
    """Return what offers are sorted by; of those that help alike, to the last digits, by name."""
    value, bound = (float(f"{x:.9g}") for x in (math.inf if one.poured is None else one.poured.value, one.bound))
    return value, bound if one.poured is None else 0.0, one.offer.label
