"""Each reason on a study that has no other."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from tests.tiny_study import GREEN, RED, tiny

from reaccord.domain.study import Study
from reaccord.fit import fit

BALANCE = {"readability_g": 0.01, "minimum_g": 0.02}
BLUE = {"red": "60", "green": "30", "blue": "10"}


def why(study: Study) -> Mapping[str, str]:
    return fit(study).reasons


def test_nothing_to_say_of_a_perfect_fit() -> None:
    assert why(tiny(balance=BALANCE)) == {}


def test_no_bottle_holds_it() -> None:
    assert why(tiny(rows=BLUE))["blue"] == "no bottle holds it"


def test_its_bottle_is_excluded() -> None:
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    study = tiny([RED, GREEN, blue], rows=BLUE, limits={"exclude": ["Blue"]})
    assert why(study)["blue"] == "only Blue holds it: excluded"


def test_not_weighable() -> None:
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    study = tiny(
        [RED, GREEN, blue], rows={"red": "60", "green": "39.4", "blue": "0.6"}, balance=BALANCE | {"minimum_g": 1}
    )
    assert why(study)["blue"] == "not weighable at this batch size"


def test_used_up() -> None:
    assert "used up" in why(tiny([RED | {"stock_g": "4"}, GREEN], balance=BALANCE))["red"]


def test_held_by_its_rule() -> None:
    study = tiny(rules=[{"rule": "Red rule", "members": "red", "max": "0.9"}])
    assert "Red rule" in why(study)["red"]


def test_comes_with_a_bottle_wanted_for_something_else() -> None:
    study = tiny([RED | {"purity": "80"}, GREEN], compositions=[{"material": "Red", "part": "blue", "share": "15"}])
    assert why(study)["blue"] == "comes with Red, wanted for red"


def test_brings_other_things_along() -> None:
    oil = [{"material": "Oil", "part": part, "share": share} for part, share in (("blue", "20"), ("grey", "80"))]
    study = tiny([RED, GREEN, {"material": "Oil"}], compositions=oil, rows=BLUE)
    assert why(study)["blue"] == "only Oil brings it, with 4.0 times its weight of other things"


def test_held_by_another_limit() -> None:
    assert "cost" in why(tiny(limits={"cost_per_kg": 18}))["green"]


def test_fills_in_for_what_is_missing() -> None:
    said = why(tiny(rows=BLUE))
    assert said["red"] == said["green"]
    assert "missing" in said["red"]


@pytest.mark.parametrize("rows", [BLUE, {"red": "60", "green": "40"}])
def test_every_reason_belongs_to_a_row(rows: Mapping[str, str]) -> None:
    study = tiny(rows=rows)
    assert set(why(study)) <= {row.label for row in study.target.rows}
