"""Scaling the money scales the cost only; scaling the batch with its limits scales the amounts."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import Decimal
from typing import Any

import pytest
from tests.random_studies import CARRIER_BOTTLE, Draft, draw
from tests.seeds import seeds

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.judge import judge
from reaccord.domain.stock import StockKey
from reaccord.findings import NoFormula

TEN = Decimal(10)
GRAM_KEYS = {
    "batch": ("accord_g", "carrier_max_g"),
    "balance": ("readability_g", "minimum_g", "repeatability_g"),
}
AMOUNT_KEYS = ("at_least_g", "at_most_g", "exactly_g")


def times_ten(row: dict[str, Any], keys: tuple[str, ...]) -> None:
    for key in keys:
        if row.get(key) is not None:
            scaled = Decimal(str(row[key])) * TEN
            row[key] = str(scaled) if isinstance(row[key], str) else float(scaled)


def dearer(draft: Draft) -> Draft:
    scaled = draft.copy()
    for row in scaled.tables["bottles.csv"]:
        times_ten(row, ("price_per_kg",))
    times_ten(scaled.settings.get("limits", {}), ("cost_per_kg",))
    return scaled


def larger(draft: Draft) -> Draft:
    scaled = draft.copy()
    for row in scaled.tables["bottles.csv"]:
        times_ten(row, ("stock_g", "minimum_g", "step_g"))
    for section, keys in GRAM_KEYS.items():
        times_ten(scaled.settings.get(section, {}), keys)
    for amount in scaled.settings.get("limits", {}).get("amount", []):
        times_ten(amount, AMOUNT_KEYS)
    return scaled


def fitted(draft: Draft) -> Fit | str:
    try:
        return fit(draft.study())
    except NoFormula as fault:
        return str(fault).splitlines()[0].split(" for ")[0]


def neat(amounts: Mapping[StockKey, float]) -> dict[str, float]:
    """Return gram of neat material: of two equal lots, or of neat and diluted, either may be poured."""
    grams: dict[str, float] = {}
    for key, poured in sorted(amounts.items()):
        grams[key.material] = grams.get(key.material, 0.0) + poured * key.strength
    return {material: gram for material, gram in grams.items() if material != CARRIER_BOTTLE}


def same_formula(one: Fit, other: Fit, times: float) -> None:
    """Check that `other` is `one` times so much: deviation, optimum and, to a step a line, what is poured."""
    batch = other.study.settings.batch.accord_g
    values = [f.judged_before.closeness.value for f in (one, other)]
    assert values[1] == pytest.approx(values[0], rel=1e-6, abs=1e-9)
    expected = {material: times * grams for material, grams in neat(one.unrounded).items()}
    assert neat(other.unrounded) == pytest.approx(expected, rel=1e-6, abs=1e-4 * batch)
    steps = sum(stock.step_g for stock in other.study.stocks if stock.key in other.amounts)
    expected = {material: times * grams for material, grams in neat(one.amounts).items()}
    assert neat(other.amounts) == pytest.approx(expected, rel=1e-9, abs=steps + 1e-4 * batch)


@seeds(200, 209, 225)
def test_money_scales_the_cost_only(seed: int) -> None:
    draft = draw(seed, measure="squares")
    cheap, dear = fitted(draft), fitted(dearer(draft))
    if isinstance(cheap, str) or isinstance(dear, str):
        assert cheap == dear
        return
    same_formula(cheap, dear, 1.0)
    cost = judge(dear.study, cheap.amounts).totals.cost
    assert cost == pytest.approx(10 * cheap.judged.totals.cost, rel=1e-9)
    assert dear.judged.totals.unpriced_lines == cheap.judged.totals.unpriced_lines


@seeds(225, 234, 250)
def test_batch_with_its_limits_scales_the_amounts(seed: int) -> None:
    draft = draw(seed, measure="squares")
    small, large = fitted(draft), fitted(larger(draft))
    if isinstance(small, str) or isinstance(large, str):
        assert small == large
        return
    same_formula(small, large, 10.0)
