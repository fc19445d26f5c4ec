"""Handles read what the study file reads, and each gives the study with it elsewhere."""

from __future__ import annotations

import pytest
from tests.desk_studies import colours

from reaccord.desk.handle import Handle, name_of
from reaccord.desk.handles import handle_of, handles
from reaccord.desk.moves import Move, follow, moved
from reaccord.desk.opened import opened
from reaccord.domain.study import Study
from reaccord.tables.cells import BadCell


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    found = opened(colours(tmp_path_factory.mktemp("handles"))).study
    assert found is not None
    return found


def handle(study: Study, *name: str) -> Handle:
    found = handle_of(study, name_of(*name))
    assert found is not None
    return found


def test_every_handle_is_found_by_its_name_and_stands_where_the_study_does(study: Study) -> None:
    for each in handles(study):
        found = handle_of(study, each.name)
        assert found is not None
        assert (found.label, found.now(study)) == (each.label, each.now(study))
        if not each.cannot and each.now(study) == "in":
            continue
        if not each.cannot and each.now(study):
            assert each.moved(study, each.now(study)).target == study.target
    groups = {each.group for each in handles(study)}
    assert groups == {"limits", "batch", "rules", "bottles", "rows", "closeness", "samples"}


def test_a_field_reads_the_units_and_signs_of_the_study_file(study: Study) -> None:
    assert moved(study, name_of("limits", "cost_per_kg"), "1,5").settings.limits.cost_per_kg == 1.5
    assert moved(study, name_of("limits", "cost_per_kg"), " ").settings.limits.cost_per_kg is None
    assert moved(study, name_of("limits", "lines"), "3").settings.limits.lines == 3
    assert moved(study, name_of("limits", "dosage"), "1 ‰").settings.limits.dosage == 0.001
    assert moved(study, name_of("limits", "undeclared"), "0").settings.limits.undeclared == 0
    assert handle(study, "limits", "dosage").now(study) == "2 %"
    assert handle(study, "limits", "lines").now(study) == ""


def test_a_bare_number_in_a_field_that_shows_percent_is_percent(study: Study) -> None:
    after = moved(study, name_of("limits", "dosage"), "2.5")
    assert handle(after, "limits", "dosage").now(after) == "2.5 %"
    with pytest.raises(BadCell, match=r"1\.250 or 1250"):
        moved(study, name_of("limits", "dosage"), "1,250")


@pytest.mark.parametrize(
    ("name", "text", "why"),
    [
        (("limits", "cost_per_kg"), "12x", '"12x" is not a number.'),
        (("limits", "cost_per_kg"), "1,250", '"1,250" may be 1.250 or 1250: write which of them, without a comma.'),
        (("limits", "cost_per_kg"), "-1", "-1 is below 0."),
        (("limits", "lines"), "2.5", '"2.5" is not a whole number.'),
        (("limits", "dosage"), "", "accord in the finished product is needed."),
        (("batch", "accord_g"), "0", "0 must be above 0."),
        (("fit", "measure"), "cubes", '"cubes" is none of squares, absolute, worst.'),
        (("bottle", "Green", "1", "", ""), "out", "Green is wanted, but no bottle of it may be used"),
        (("bottle", "Gone", "1", "", ""), "in", "it cannot be poured: used up."),
        (("bottle", "Blue", "1", "", ""), "maybe", '"maybe" is neither in nor out.'),
        (("at_most_g", "Green"), "0.1", "at_least_g is above at_most_g."),
        (("sample", "G1"), "out", "one sample at least is needed."),
        (("weight", "red"), "", "a weight is needed."),
        (("nothing",), "1", "this is no longer in the study."),
    ],
)
def test_nonsense_is_refused_in_words(study: Study, name: tuple[str, ...], text: str, why: str) -> None:
    with pytest.raises(BadCell) as said:
        moved(study, name_of(*name), text)
    assert str(said.value).startswith(why)


def test_a_name_that_is_no_name_is_no_handle(study: Study) -> None:
    for name in (
        "",
        "x",
        "[]",
        "{}",
        "7",
        '["bottle"]',
        '["rule","a"]',
        '["weight"]',
        '["limits"]',
        '["limits","exclude"]',
    ):
        assert handle_of(study, name) is None


def test_a_ratio_stretches_its_limits_and_comes_back(study: Study) -> None:
    name = next(each.name for each in handles(study) if each.label == "Share")
    wider = moved(study, name, "2")
    assert handle_of(wider, name).now(wider) == "2"  # type: ignore[union-attr]
    assert [m.most for rule in wider.rules if rule.label == "Share" for m in rule.members] == [0.08, 0.06]
    assert [c.most for c in moved(wider, name, "1").claims()] == [c.most for c in study.claims()]


def test_steps_that_wait_for_others_are_taken_after_them(study: Study) -> None:
    least, green = name_of("at_least_g", "Green"), name_of("bottle", "Green", "1", "", "")
    after = {green: Move("out", "in"), least: Move("", "0.5")}
    without = follow(study, {}, after)
    assert "Green" not in {stock.key.material for stock in without.stocks}
    assert follow(without, after, {}).stocks == study.stocks
    with pytest.raises(BadCell, match="Green is wanted"):
        follow(study, {}, {green: Move("out", "in")})
