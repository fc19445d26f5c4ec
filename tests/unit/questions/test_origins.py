"""One base for two samples, on studies small enough to know the answer."""

from __future__ import annotations

from typing import Any

import pytest
from tests.random_studies import draw
from tests.seeds import seeds
from tests.studies import study

from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import InvalidInput, NoAnswer, NoFormula
from reaccord.questions.origins import Origins, origins

TARGET = "constituent,A,B\ngeraniol,60,60\ncitronellol,40,30\nlinalool,nd,10"
BOTTLES = "material,constituent,purity\nGer,geraniol,100\nCit,citronellol,100\nLin,linalool,100"


def of(bottles: str = BOTTLES, **settings: Any) -> Study:
    samples = {"target": {"table": "target.csv", "samples": ["A", "B"]}}
    return study(target=TARGET, bottles=bottles, settings=samples | settings)


def grams(amounts: Any) -> dict[str, float]:
    return {key.material: round(x, 3) for key, x in amounts.items()}


def test_what_both_share_is_the_base_and_the_rest_a_tail() -> None:
    found = origins(of(), ("A", "B"), 4)
    assert found.status == "proven"
    assert found.value == pytest.approx(0.0, abs=1e-8)
    assert grams(found.base) == pytest.approx({"Ger": 6.0, "Cit": 3.0}, abs=2e-3)
    assert [grams(accord.tail) for accord in found.accords] == [
        pytest.approx({"Cit": 1.0}, abs=2e-3),
        pytest.approx({"Lin": 1.0}, abs=2e-3),
    ]
    assert [(r.constituent, r.first, r.second) for r in found.rows] == [
        ("citronellol", pytest.approx(0.4), pytest.approx(0.3)),
        ("linalool", None, pytest.approx(0.1)),
        ("geraniol", pytest.approx(0.6), pytest.approx(0.6)),
    ]


def test_with_too_few_lines_one_accord_serves_both() -> None:
    found = origins(of(), ("A", "B"), 2)
    assert grams(found.base).keys() == {"Ger", "Cit"}
    assert not any(accord.tail for accord in found.accords)
    more = origins(of(), ("A", "B"), 3)
    assert more.value <= found.value


def test_grams_on_hand_are_for_both() -> None:
    bottles = "material,constituent,purity,stock_g\nGer,geraniol,100,10\nCit,citronellol,100,\nLin,linalool,100,"
    found = origins(of(bottles), ("A", "B"), 5)
    taken = 2 * grams(found.base).get("Ger", 0.0) + sum(grams(a.tail).get("Ger", 0.0) for a in found.accords)
    assert taken <= 10 + 1e-9
    assert found.value > 1e-3
    bottles = "material,constituent,purity,stock_g\nGer,geraniol,100,9\nCit,citronellol,100,9\nLin,linalool,100,9"
    with pytest.raises(NoFormula, match="No base and tails with 2 lines in all"):
        origins(of(bottles), ("A", "B"), 2)


def test_limits_hold_for_each_accord() -> None:
    found = origins(of(limits={"lines": 2}), ("A", "B"), 4)
    for accord in found.accords:
        assert not accord.judged.broken
        assert len(accord.judged.lines) <= 2


@seeds(0, 3, 10, 60)
def test_drawn_studies_with_dilutions_hold_everything(seed: int) -> None:
    draft = draw(seed)
    for row in draft.tables["target.csv"]:
        share = next((row[name] for name in ("S1", "high") if row.get(name)), "1")
        row.pop("S2", None)
        row |= {"low": None, "high": None, "S1": share, "B": "2"}
    draft.settings["target"] = {"table": "target.csv", "samples": ["S1", "B"]}
    try:
        found = origins(draft.study(), ("S1", "B"), 4 + seed % 3, Budget(gap=0.05, seconds=20.0))
    except (InvalidInput, NoFormula, NoAnswer):
        return
    holds(found)


def holds(found: Origins) -> None:
    parts = [found.base, *(accord.tail for accord in found.accords)]
    assert sum(map(len, parts)) <= found.lines
    made = {key for part in parts for key in part if key.lot == "made"}
    most = found.study.settings.dilutions.most if found.study.settings.dilutions else None
    assert most is None or len(made) <= most
    for accord in found.accords:
        assert not accord.judged.broken, [state.label for state in accord.judged.broken]
    assert found.bound <= found.value
