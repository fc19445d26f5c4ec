"""Contents that vary: the law, blends inside blends, and where the difference goes. All numbers invented."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest
from tests.tiny_study import GREEN, RED, tiny

from reaccord.domain.study import Study
from reaccord.questions.spread.draws import draw
from reaccord.questions.spread.variation import UNNAMED, Substance, Variation, VariedRow
from reaccord.questions.spread.watched import Watched

BLEND = [RED, GREEN, {"material": "Oil"}, {"material": "Inner"}, {"material": "Outer"}]
OIL, INNER, OUTER = ("60", "50", "80"), ("70", "60", "75"), ("40", "30", "45")


def parts(oil: float | None = None, inner: float | None = None, outer: float | None = None) -> list[dict[str, Any]]:
    """Return the rows of an oil in a base in a base; a number takes the place of a row that varies."""

    def row(material: str, part: str, ends: tuple[str, str, str], share: float | None, **more: str) -> dict[str, Any]:
        if share is not None:
            return {"material": material, "part": part, "share": repr(share * 100)} | more
        return {"material": material, "part": part, "share": ends[0], "low": ends[1], "high": ends[2]} | more

    return [
        row("Oil", "red", OIL, oil),
        {"material": "Oil", "part": "green", "share": "15"},
        row("Inner", "Oil", INNER, inner, part_kind="material"),
        {"material": "Inner", "part": "Green", "share": "20", "part_kind": "material"},
        row("Outer", "Inner", OUTER, outer, part_kind="material", strength="50", carrier="dipropylene glycol"),
        {"material": "Outer", "part": "Oil", "share": "30", "part_kind": "material"},
    ]


def test_the_triangle_is_the_one_of_the_textbooks() -> None:
    """Mean (a + b + c) / 3 and variance (a2 + b2 + c2 - ab - ac - bc) / 18: scipy.stats.triang says the same."""
    from scipy import stats

    row = VariedRow("Oil", "red", 0.5, 0.6, 0.8)
    law = stats.triang(c=(0.6 - 0.5) / 0.3, loc=0.5, scale=0.3)
    assert row.mean == pytest.approx(law.mean())
    assert row.deviation == pytest.approx(law.std())


def test_only_rows_with_both_ends_vary() -> None:
    rows = [
        {"material": "Oil", "part": "red", "share": "60", "low": "50", "high": "70"},
        {"material": "Oil", "part": "green", "share": "20", "low": "10"},
        {"material": "Oil", "part": "blue", "share": "5", "low": "5", "high": "5"},
        {"material": "Oil", "part": "undeclared", "share": "10", "low": "5", "high": "15"},
    ]
    variation = Variation(tiny([RED, GREEN, {"material": "Oil"}], compositions=rows))
    assert [(row.part, row.low, row.share, row.high) for row in variation.rows] == [("red", 0.5, 0.6, 0.7)]
    assert variation.one_ended == 1


def test_what_a_row_gains_the_undeclared_mass_loses() -> None:
    study = tiny([RED, GREEN, {"material": "Oil"}], compositions=parts()[:2])
    (oil,) = [stock for stock in study.stocks if stock.key.material == "Oil"]
    found = Variation(study).stock(oil.key)
    mean = (0.6 + 0.5 + 0.8) / 3
    red, green = Substance("constituent", "red"), Substance("constituent", "green")
    assert found[()][red] == pytest.approx(mean)
    assert found[()][green] == pytest.approx(0.15)
    assert found[()][UNNAMED] == pytest.approx(0.25 + 0.6 - mean)
    assert found[(0,)] == pytest.approx({red: 1.0, UNNAMED: -1.0})


def test_a_composition_of_102_percent_takes_its_ends_along() -> None:
    rows = [
        {"material": "Oil", "part": "red", "share": "61.2", "low": "51", "high": "71.4"},
        {"material": "Oil", "part": "green", "share": "40.8"},
    ]
    (row,) = Variation(tiny([RED, GREEN, {"material": "Oil"}], compositions=rows)).rows
    assert (row.low, row.share, row.high) == pytest.approx((0.5, 0.6, 0.7))


def contents(study: Study, material: str) -> dict[str, float]:
    (stock,) = [stock for stock in study.stocks if stock.key.material == material]
    return {**stock.content.typical, "undeclared": stock.content.undeclared}


@pytest.mark.parametrize(("oil", "inner", "outer"), [(0.5, 0.6, 0.3), (0.8, 0.75, 0.45), (0.63, 0.71, 0.33)])
def test_a_draw_is_the_study_with_the_drawn_shares_written_in(oil: float, inner: float, outer: float) -> None:
    """Products of rows of an oil inside a base inside a base, against tables read with these shares."""
    study = tiny(BLEND, compositions=parts())
    variation = Variation(study)
    assert [row.material for row in variation.rows] == ["Inner", "Oil", "Outer"]
    deltas = np.array([inner, oil, outer]) - np.array([row.mean for row in variation.rows])
    written = tiny(BLEND, compositions=parts(oil, inner, outer))
    for material in ("Oil", "Inner", "Outer"):
        (stock,) = [stock for stock in study.stocks if stock.key.material == material]
        found = dict.fromkeys(("red", "green", "dipropylene glycol", "undeclared"), 0.0)
        for rows, held in variation.stock(stock.key).items():
            for substance, gram in held.items():
                if substance.kind != "material":
                    name = substance.name or "undeclared"
                    found[name] += gram * math.prod(deltas[row] for row in rows)
        assert {name: gram for name, gram in found.items() if abs(gram) > 1e-12} == pytest.approx(
            {name: gram for name, gram in contents(written, material).items() if abs(gram) > 1e-12}
        )


def test_a_dilution_to_be_made_holds_its_part() -> None:
    carrier = {"material": "Carrier", "constituent": "dipropylene glycol", "purity": "90"}
    study = tiny(
        [RED, GREEN, {"material": "Oil"}, carrier],
        compositions=parts()[:2],
        balance={"readability_g": 0.001},
        dilutions={"strengths": ["10 %"], "carrier": "dipropylene glycol"},
    )
    (made,) = [stock for stock in study.stocks if stock.key.material == "Oil" and stock.recipe]
    found = Variation(study).stock(made.key)
    assert found[()][Substance("constituent", "red")] == pytest.approx(0.1 * (0.6 + 0.5 + 0.8) / 3)
    assert found[()][Substance("constituent", "dipropylene glycol")] == pytest.approx(0.9 * 0.9)
    assert found[(0,)][Substance("constituent", "red")] == pytest.approx(0.1)


def test_no_coefficient_of_a_constituent_is_negative() -> None:
    study = tiny(BLEND, compositions=parts())
    variation = Variation(study)
    watched = Watched(study, variation, [stock.key for stock in study.stocks])
    assert len(watched.sets) > 3
    for stock in study.stocks:
        for vector in watched.contents(stock.key).values():
            named = [n for n, row in enumerate(study.target.rows) if row.kind != "undeclared"]
            assert (vector[named] >= 0).all()


def test_draws_have_the_law_whatever_their_number_at_a_time(monkeypatch: pytest.MonkeyPatch) -> None:
    rows = (VariedRow("Oil", "red", 0.5, 0.6, 0.8), VariedRow("Oil", "green", 0.1, 0.1, 0.3))
    seed = np.random.SeedSequence(5)
    whole = np.concatenate(list(draw(rows, 20_000, seed)))
    assert whole.mean(axis=0) == pytest.approx([0, 0], abs=4 * 0.07 / math.sqrt(20_000))
    assert whole.std(axis=0) == pytest.approx([row.deviation for row in rows], rel=0.03)
    assert whole[:, 0].min() >= 0.5 - rows[0].mean
    monkeypatch.setattr("reaccord.questions.spread.draws.AT_ONCE", 999)
    pieces = list(draw(rows, 20_000, np.random.SeedSequence(5)))
    assert len(pieces) > 10
    assert np.array_equal(np.concatenate(pieces), whole)
