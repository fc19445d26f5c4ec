"""The one bottle that is not on the shelf and would help most, as far as a quick look tells."""

from __future__ import annotations

from dataclasses import dataclass

from reaccord.answer.fitted import Fit
from reaccord.questions.prices.nearby import Found, Nearby, Solved
from reaccord.questions.sourcing import promising
from reaccord.study.changed import with_bottle
from reaccord.study.offered import Offer, offered

TRIED = 3
"""Pure chemicals solved for: those that bring the formula at hand nearest to its target."""


@dataclass(frozen=True)
class Missing:
    """A constituent that no bottle holds nearly pure, and the closest formula with so many `grams` of it as such."""

    constituent: str
    grams: float
    found: Found
    gain: float


def missing_source(nearby: Nearby) -> Missing | None:
    """Return the pure chemical that brings the formula closest, of the most promising; None where none helps."""
    found = nearby.found
    offers = offered(found.study)
    stocks = {stock.key: stock for stock in offers.study.stocks}
    best: tuple[Offer, Solved] | None = None
    for offer in promising(offers, found.answer, found.unrounded, nearby.budget)[:TRIED]:
        solved = nearby.solved(lambda key=offer.key: with_bottle(found.study, stocks[key]))  # type: ignore[misc]
        if solved is not None and (best is None or solved.answer.value < best[1].answer.value):
            best = offer, solved
    if best is None or not nearby.gains(best[1].answer.value):
        return None
    fitted = nearby.finished(best[1])
    if fitted is None or not nearby.shows(fitted):
        return None
    close = Found.of(fitted)
    return Missing(best[0].label, _grams(fitted, best[0].key.material), close, nearby.shown - close.value)


def _grams(fitted: Fit, material: str) -> float:
    """Return the gram of neat material that a formula pours, as such or diluted."""
    return sum(grams * key.strength for key, grams in fitted.amounts.items() if key.material == material)
