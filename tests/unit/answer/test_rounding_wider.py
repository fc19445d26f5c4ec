"""Rounding with other stocks and other batches: against every formula on the grid, and where it must not go."""

from __future__ import annotations

from importlib import import_module

import numpy as np
import pytest
from tests.coarse_studies import closest_of_all, coarse
from tests.random_studies import draw
from tests.seeds import seeds
from tests.tiny_study import CARRIER, GREEN, RED, Row, tiny

from reaccord.answer.fit import fit
from reaccord.answer.fitted import Fit
from reaccord.answer.rounding import closest_on_grid, round_amounts, without_off_grid
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoFormula
from reaccord.programme import state
from reaccord.solvers.choose import solve

WIDER = import_module("reaccord.answer.rounding.wider")
DPG = "dipropylene glycol"
WORSE = 0.01
"""Relative; rounding is a search, but on grids this coarse it finds what trying every formula finds."""
FAINT = 1e-5
"""Deviations below this count as this."""


def grams(found: Fit) -> dict[str, float]:
    """Return gram by material and strength."""
    return {f"{key.material} {key.strength * 100:g}": amount for key, amount in found.amounts.items()}


@seeds(0, 15, 40, 240)
def test_no_formula_on_the_grid_is_closer(seed: int) -> None:
    try:
        study = coarse(seed).study()
    except InvalidInput:
        return
    programme = state(study)
    least = closest_of_all(programme, programme.step)
    if least is None:
        return
    try:
        found = fit(study)
    except NoFormula:  # none that makes the batch exactly; one that misses it may hold, as the batch is a limit too
        return
    assert not found.judged.broken
    assert np.isfinite(least)
    assert found.judged.closeness.value >= least * (1 - 1e-6) - 1e-12
    assert found.judged.closeness.value <= max(least, FAINT) * (1 + WORSE)
    assert found.rounded_bound <= least * (1 + 1e-6) + 1e-9


def test_the_bound_on_the_grid_is_often_near() -> None:
    """Where the grid is no coarser than the limits, what is proven of it is worth telling."""
    told = []
    for seed in range(7):
        draft = draw(seed, measure="squares", balance=True)
        draft.settings["balance"]["readability_g"] /= 10
        try:
            found = fit(draft.study(), Budget(seconds=5.0))
        except (InvalidInput, NoFormula):
            continue
        value = found.judged.closeness.value
        assert 0 <= found.rounded_bound <= value
        if value > FAINT:
            told.append(found.rounded_bound > 0.99 * value)
    assert len(told) > 2
    assert sum(told) > 0.5 * len(told)


def pure(rows: dict[str, str], stock: dict[str, str] | None = None) -> list[Row]:
    """Return a bottle of each constituent, pure."""
    return [
        {"material": name.title(), "constituent": name, "purity": "100", "stock_g": (stock or {}).get(name)}
        for name in rows
    ]


def without_a_line() -> Study:
    """4.6 % of 2 g is less than half of the smallest mass: two lines are closer than the optimum's three."""
    rows = {"linalool": "4.6", "limonene": "19.38", "eugenol": "76.02"}
    return tiny(pure(rows), rows=rows, batch={"accord_g": 2}, balance={"readability_g": 0.2, "minimum_g": 0.2})


def test_a_line_that_is_dropped_comes_closer() -> None:
    assert fit(without_a_line()).judged.closeness.value <= 0.0292


def test_a_smaller_batch_comes_closer_where_a_bottle_is_short() -> None:
    """1 g of linalool is half of 2 g and a third of 3 g."""
    rows = {"linalool": "50", "limonene": "30", "eugenol": "20"}
    bottles = pure(rows, stock={"linalool": "1"})
    found = fit(tiny(bottles, rows=rows, batch={"accord_g": 3}, balance={"readability_g": 0.5}))
    assert found.judged.closeness.value < found.bound
    assert grams(found) == {"Linalool 100": 1.0, "Limonene 100": 0.5, "Eugenol 100": 0.5}


def test_nothing_is_tried_where_rounding_costs_little(monkeypatch: pytest.MonkeyPatch) -> None:
    study = tiny(limits={"cost_per_kg": 20.3333}, balance={"readability_g": 0.001})
    programme = state(study)
    amounts = solve(programme, Budget()).amounts
    assert amounts is not None
    monkeypatch.setattr(WIDER, "first_formula", lambda *_: pytest.fail("a neighbouring batch was solved"))
    found, own = closest_on_grid(programme, amounts, Budget()), round_amounts(programme, amounts)
    assert found is not None
    assert own is not None
    assert (found == own).all()


def test_stopped_it_gives_what_the_optimum_rounds_to() -> None:
    study = without_a_line()
    programme = state(study)
    amounts = solve(programme, Budget()).amounts
    assert amounts is not None
    own = round_amounts(programme, amounts)
    assert own is not None
    found = closest_on_grid(programme, amounts, Budget(stop=lambda: True))
    assert found is not None
    assert (found == own).all()
    wider = closest_on_grid(programme, amounts, Budget())
    assert wider is not None
    assert (wider != own).any()


def test_the_same_formula_every_time() -> None:
    study = without_a_line()
    assert fit(study).amounts == fit(study).amounts


def test_no_line_is_poured_only_to_miss_the_batch_by_more() -> None:
    """A line of carrier holds nothing of the batch: it does not widen what the batch may be missed by."""
    study = tiny([CARRIER, RED | {"stock_g": "5"}, GREEN], balance={"readability_g": 1}, batch={"accord_g": 10})
    assert "Carrier 100" not in grams(fit(study))


def test_lines_and_strengths_hold_for_what_is_exchanged() -> None:
    """Seeds with a limit on lines, and with dilutions: the judge would find them broken."""
    counted = 0
    for seed in range(300, 312):
        draft = coarse(seed)
        draft.settings.setdefault("limits", {})["lines"] = 2
        try:
            found = fit(draft.study())
        except (InvalidInput, NoFormula):
            continue
        counted += 1
        assert len(found.amounts) <= 2
        assert not found.judged.broken
    assert counted > 4


def exactly(amount: float, **sections: Row) -> Study:
    limits = {"amount": [{"material": "Green", "exactly_g": amount}]}
    return tiny([CARRIER, RED, GREEN], balance={"readability_g": 0.01}, limits=limits, **sections)


def test_an_amount_off_the_grid_is_poured_as_a_dilution() -> None:
    """0.005 g of the 1.005 g of Green can only be had from a tenth solution."""
    found = fit(exactly(1.005, dilutions={"strengths": ["10 %"], "carrier": DPG}))
    poured = grams(found)
    assert poured["Green 10"] > 0
    assert poured["Green 10"] / 10 + poured.get("Green 100", 0.0) == pytest.approx(1.005, rel=1e-12)
    assert "Green 100" in {f"{key.material} {key.strength * 100:g}" for key in found.unrounded}


def test_an_amount_off_every_grid_is_an_error_of_the_study() -> None:
    with pytest.raises(InvalidInput, match=r"1\.005 g cannot be weighed in whole steps of 0\.01 g"):
        exactly(1.005)
    with pytest.raises(InvalidInput, match=r"1\.0055 g"):
        exactly(1.0055, dilutions={"strengths": ["10 %"], "carrier": DPG})


def test_an_amount_that_only_a_limit_keeps_off_the_grid_names_that_limit() -> None:
    """The 0.005 g that the neat bottle cannot give bring 0.045 g of carrier."""
    with pytest.raises(NoFormula) as caught:
        fit(exactly(1.005, dilutions={"strengths": ["10 %"], "carrier": DPG}, batch={"carrier_max_g": 0.04}))
    lines = [line.strip() for line in str(caught.value).splitlines() if line.startswith("  ")]
    assert [line.partition("   ")[0] for line in lines] == [
        "carrier at most 0.04 g",
        "Green exactly 1.005 g",
        "Green at a strength whose whole steps make that amount",
    ]


def test_only_stocks_that_cannot_make_the_amount_are_left_out() -> None:
    study = exactly(1.005, dilutions={"strengths": ["10 %"], "carrier": DPG})
    programme = without_off_grid(state(study))
    assert programme is not None
    row = programme.limits[-1]
    assert [name for name, used in zip(programme.columns, row.used, strict=True) if used] == ["Green"]
    assert without_off_grid(state(exactly(1.01))) is None


def test_lots_with_steps_of_their_own_make_an_amount_together() -> None:
    """0.04 g and 0.15 g steps make 0.19 g; alone neither does, but their common measure, 0.01 g, does."""
    lots = [GREEN | {"lot": "A", "step_g": "0.04"}, GREEN | {"lot": "B", "step_g": "0.15"}]
    study = tiny(
        [RED, *lots], balance={"readability_g": 0.01}, limits={"amount": [{"material": "Green", "at_least_g": 1}]}
    )
    programme = state(study)
    assert without_off_grid(programme) is None
