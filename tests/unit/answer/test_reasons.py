"""Each reason on a study that has no other."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from tests.tiny_study import GREEN, RED, tiny

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.answer.why.reasons import reasons
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study

BALANCE = {"readability_g": 0.01, "minimum_g": 0.02}
BLUE = {"red": "60", "green": "30", "blue": "10"}


def why(study: Study) -> Mapping[str, str]:
    return {label: reason.sentence for label, reason in fit(study).reasons.items()}


def test_nothing_to_say_of_a_perfect_fit() -> None:
    assert why(tiny(balance=BALANCE)) == {}


def test_no_bottle_holds_it() -> None:
    assert why(tiny(rows=BLUE))["blue"] == "no bottle holds it"


def test_its_bottle_is_excluded() -> None:
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    study = tiny([RED, GREEN, blue], rows=BLUE, limits={"exclude": ["Blue"]})
    assert why(study)["blue"] == "only Blue holds it: excluded; with it 10.00 points nearer"


def test_less_is_wanted_than_can_be_weighed() -> None:
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    study = tiny(
        [RED, GREEN, blue], rows={"red": "60", "green": "39.4", "blue": "0.6"}, balance=BALANCE | {"minimum_g": 1}
    )
    assert why(study)["blue"].startswith("less of Blue is wanted than can be weighed (1 g): diluted to 1 % (no carrier")


def test_used_up() -> None:
    assert "used up" in why(tiny([RED | {"stock_g": "4"}, GREEN], balance=BALANCE))["red"]


def test_held_by_its_rule() -> None:
    study = tiny(rules=[{"rule": "Red rule", "members": "red", "max": "0.9"}])
    assert "Red rule" in why(study)["red"]


def test_comes_with_a_bottle_that_brings_something_else() -> None:
    study = tiny([RED | {"purity": "80"}, GREEN], compositions=[{"material": "Red", "part": "blue", "share": "15"}])
    assert why(study)["blue"] == "comes with Red, which also brings red"


def test_of_two_sources_it_is_said_of_the_first_what_else_it_brings() -> None:
    parts = [{"material": name, "part": "blue", "share": share} for name, share in (("Red", "9"), ("Green", "9"))]
    study = tiny([RED | {"purity": "90"}, GREEN | {"purity": "90"}], compositions=parts)
    assert why(study)["blue"] == "comes with Red (which also brings red) and Green"


def test_nobody_knows_what_a_given_formula_wanted_a_bottle_for() -> None:
    study = tiny([RED | {"purity": "80"}, GREEN], compositions=[{"material": "Red", "part": "blue", "share": "15"}])
    said = reasons(study, fit(study).judged, optimised=False)
    assert said["blue"].sentence == "comes with Red"


def test_only_is_not_said_of_two_bottles_set_aside() -> None:
    blues = [{"material": name, "constituent": "blue", "purity": purity} for name, purity in (("B", "99"), ("C", "50"))]
    study = tiny([RED, GREEN, *blues], rows=BLUE, limits={"exclude": ["B", "C"]})
    assert why(study)["blue"] == "best source B: excluded; with it 10.00 points nearer"


def test_another_bottle_whose_name_begins_alike_is_not_used_up() -> None:
    """Red oil is poured to the end; Red itself is not, and the cost holds it."""
    oil = [
        {"material": "Red oil", "part": "red", "share": "55"},
        {"material": "Red oil", "part": "green", "share": "45"},
    ]
    dear, cheap = RED | {"price_per_kg": "90"}, GREEN | {"price_per_kg": "5"}
    bottles = [dear, cheap, {"material": "Red oil", "price_per_kg": "20", "stock_g": "2"}]
    study = tiny(bottles, compositions=oil, limits={"cost_per_kg": 30})
    labels = {state.label for state in fit(study).judged.limits if state.binding}
    assert labels == {"Red oil: on hand", "cost"}
    assert "used up" not in why(study)["red"]


def test_a_poor_source_that_is_used_up_is_no_reason() -> None:
    """What is left of a pure bottle would do; a weak one at its end says nothing."""
    oil = [{"material": "Oil", "part": "green", "share": "15"}, {"material": "Oil", "part": "red", "share": "80"}]
    study = tiny(
        [RED, GREEN | {"price_per_kg": "90"}, {"material": "Oil", "price_per_kg": "1", "stock_g": "2"}],
        compositions=oil,
        limits={"cost_per_kg": 30},
    )
    assert "Oil: on hand" in {state.label for state in fit(study).judged.limits if state.binding}
    assert "used up" not in why(study)["green"]


def test_brings_other_things_along() -> None:
    oil = [{"material": "Oil", "part": part, "share": share} for part, share in (("blue", "20"), ("grey", "80"))]
    study = tiny([RED, GREEN, {"material": "Oil"}], compositions=oil, rows=BLUE)
    assert why(study)["blue"] == "only Oil brings it: a point of it comes with 4.0 points of grey"


def test_held_by_another_limit() -> None:
    assert "cost" in why(tiny(limits={"cost_per_kg": 18}))["green"]


def test_fills_in_for_what_is_missing() -> None:
    said = why(tiny(rows=BLUE))
    assert said["red"] == "fills in, in proportion, for what no bottle holds: with that 6.67 points nearer"
    assert said["green"] == "fills in, in proportion, for what no bottle holds: with that 3.33 points nearer"


@pytest.mark.parametrize("rows", [BLUE, {"red": "60", "green": "40"}])
def test_every_reason_belongs_to_a_row(rows: Mapping[str, str]) -> None:
    study = tiny(rows=rows)
    assert set(why(study)) <= {row.label for row in study.target.rows}


def test_a_name_that_was_asked_about_is_asked_again_beside_its_residual() -> None:
    humulene = {"material": "Hops", "constituent": "alpha-humulene", "purity": "100"}
    study = tiny([RED, GREEN, humulene], rows={"red": "60", "green": "30", "A-Humulene": "10"})
    assert why(study)["A-Humulene"] == (
        "no bottle holds it; read as a constituent of its own; did you mean alpha-humulene?"
    )


def test_a_name_on_the_shelf_that_may_mean_what_is_short_is_named_beside_it() -> None:
    parts = [{"material": "Hops", "part": name, "share": "48"} for name in ("A-Humulene", "green")]
    study = tiny(
        [RED, {"material": "Hops"}], rows={"red": "60", "green": "30", "alpha-humulene": "10"}, compositions=parts
    )
    assert why(study)["alpha-humulene"] == 'no bottle holds it; "A-Humulene" on the shelf may mean it'
    assert why(study)["A-Humulene"].endswith("read as a constituent of its own; did you mean alpha-humulene?")


def test_the_target_itself_is_no_baggage_of_its_oil() -> None:
    """Ginger oil in ginger: what it brings beside blue is what is wanted of it."""
    shares = (("blue", "5"), ("red", "62"), ("green", "33"))
    oil = [{"material": "Oil", "part": part, "share": share} for part, share in shares]
    study = tiny([GREEN, {"material": "Oil"}], compositions=oil, rows=BLUE)
    assert "baggage" not in {reason.code for reason in fit(study).reasons.values()}


def test_wanted_things_are_baggage_where_there_is_too_much_of_them_already() -> None:
    oil = [{"material": "Oil", "part": part, "share": share} for part, share in (("blue", "20"), ("red", "80"))]
    study = tiny([GREEN, {"material": "Oil"}], compositions=oil, rows={"blue": "40", "red": "20", "green": "40"})
    assert why(study)["blue"] == "only Oil brings it: a point of it comes with 4.0 points of red"


def test_a_limit_named_is_one_without_which_the_row_is_nearer() -> None:
    said = why(tiny(limits={"cost_per_kg": 18}))
    assert said["green"].startswith("held by the limit cost: without it")
    assert said["red"].startswith("held by the limit cost: without it")  # far over its target, from its own bottle


def test_a_bottle_used_up_does_not_fill_in() -> None:
    study = tiny([RED | {"stock_g": "6.2"}, GREEN], rows=BLUE)
    assert "fills in" not in why(study).get("red", "")


def test_a_pure_source_set_aside_stands_in_a_whole_sentence() -> None:
    oil = [{"material": "Oil", "part": part, "share": share} for part, share in (("blue", "5"), ("grey", "95"))]
    blue = {"material": "Blue", "constituent": "blue", "purity": "100"}
    study = tiny([RED, GREEN, blue, {"material": "Oil"}], compositions=oil, rows=BLUE, limits={"exclude": ["Blue"]})
    assert (
        why(study)["blue"]
        == "Blue, much purer than what may be poured, is set aside: excluded; with it 9.98 points nearer"
    )


def test_a_bottle_that_states_only_a_sum_is_named() -> None:
    citral = {"material": "Citral", "constituent": "citral", "purity": "98"}
    study = tiny([RED, GREEN, citral], rows={"red": "60", "green": "30", "geranial": "6", "neral": "4"})
    assert why(study)["geranial"] == "Citral may hold it, but is set aside: states only a sum"


def test_more_of_a_bottle_is_whole_steps_of_the_balance() -> None:
    """0.6667 g of green are missing: 0.67 g can be weighed, and nothing holds that back."""
    study = tiny(balance=BALANCE)
    judged = judge(study, {StockKey("Red", 1.0, "", ""): 6.0, StockKey("Green", 1.0, "", ""): 3.3333})
    said = reasons(study, judged, optimised=False)["green"].sentence
    assert said == "0.67 g more of Green would bring it; nothing holds that back"


def test_more_than_the_whole_accord_is_no_cure() -> None:
    """A thousandth of blue in green: a tenth of blue would take far more green than there is."""
    oil = [{"material": "Oil", "part": "green", "share": "99.9"}, {"material": "Oil", "part": "blue", "share": "0.1"}]
    study = tiny([RED, {"material": "Oil"}], rows=BLUE, compositions=oil, balance=BALANCE)
    judged = judge(study, {StockKey("Red", 1.0, "", ""): 6.0, StockKey("Oil", 1.0, "", ""): 3.0})
    assert "blue" not in reasons(study, judged, optimised=False)
