"""A tab's settings: back and forth, the ledger, what came too late, another study read meanwhile."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.desk_studies import colours

from reaccord.answer.fit import fit
from reaccord.desk import session as desk_session
from reaccord.desk.answering import Answered, NoneFits
from reaccord.desk.handle import name_of
from reaccord.desk.opened import opened
from reaccord.desk.session import Session
from reaccord.domain.study import Study

COST, LINES = name_of("limits", "cost_per_kg"), name_of("limits", "lines")


@pytest.fixture(scope="module")
def study(tmp_path_factory: pytest.TempPathFactory) -> Study:
    found = opened(colours(tmp_path_factory.mktemp("session"))).study
    assert found is not None
    return found


def answer(session: Session, certainty: str = "proven") -> Answered:
    found = fit(session.study)
    told = Answered(session.setting.number, found.judged, found.amounts, "a verdict", certainty, {})
    session.heard(told)
    return told


def stands(session: Session) -> list[str]:
    return [move.text for move in session.setting.moves.values()]


def test_undo_and_redo_go_through_the_settings(study: Study) -> None:
    session = Session(study)
    session.move({COST: "50"})
    session.move({LINES: "3"})
    assert stands(session) == ["50", "3"]
    assert session.step(-1)
    assert stands(session) == ["50"]
    assert session.step(-1)
    assert not session.step(-1)
    assert session.study is study
    assert session.step(1)
    assert session.step(1)
    assert not session.step(1)
    assert session.study.settings.limits.lines == 3
    session.step(-1)
    session.move({COST: "40"})
    assert not session.step(1), "a new move ends what could be redone"


def test_a_handle_back_where_it_stood_is_not_moved(study: Study) -> None:
    session = Session(study)
    session.move({COST: "50"})
    session.move({COST: "60.0"})
    assert session.setting.moves == {}
    assert not session.move({COST: " 60 "})


def test_a_slider_is_undone_as_a_whole(study: Study, monkeypatch: pytest.MonkeyPatch) -> None:
    clock = iter((0.0, 0.1, 0.2, 10.0))
    monkeypatch.setattr(desk_session.time, "monotonic", lambda: next(clock))
    session = Session(study)
    for cost in ("59", "58", "57"):
        session.move({COST: cost})
    session.move({COST: "50"})
    session.step(-1)
    assert stands(session) == ["57"]
    session.step(-1)
    assert stands(session) == []


def test_what_cannot_be_read_stays_beside_its_field_and_the_answer_stays(study: Study) -> None:
    session = Session(study)
    told = answer(session)
    assert not session.move({COST: "x"})
    assert session.wrong[COST][0] == "x"
    assert session.current == told
    session.move({COST: "50"})
    assert session.wrong == {}


def test_an_answer_to_an_older_setting_is_not_taken(study: Study) -> None:
    session = Session(study)
    late = answer(session)
    session.move({COST: "50"})
    assert session.answer == late
    assert session.current is None
    assert not session.proven
    assert not session.heard(late)
    session.step(-1)
    assert session.current is None, "a setting gone back to is answered again"
    answer(session)
    assert session.proven


def test_the_ledger_has_each_setting_once_with_what_came_of_it(study: Study) -> None:
    session = Session(study)
    answer(session, "closest so far")
    assert session.tried == []
    answer(session)
    session.move({COST: "50", name_of("bottle", "Red", "1", "", "b"): "out", name_of("weight", "blue"): "2"})
    answer(session)
    session.move({LINES: "1"})
    session.heard(NoneFits(session.setting.number, "No formula fits."))
    assert session.proven
    assert [(each.number, each.said) for each in session.tried] == [
        (1, "as the study stands"),
        (2, "Cost at most: 50 per kg of accord; without Red (b); blue, weight: 2"),
        (3, session.tried[2].said),
    ]
    assert session.tried[2].said.endswith("Lines at most: 1")
    assert session.back_to(2)
    assert session.study.settings.limits.lines is None
    assert session.study.settings.limits.cost_per_kg == 50
    answer(session)
    assert len(session.tried) == 3
    assert not session.back_to(9)
    assert session.start_again()
    assert session.setting.moves == {}
    assert not session.start_again()


def test_the_handles_stay_where_they_can_when_the_study_is_read_again(study: Study, tmp_path: Path) -> None:
    session = Session(study)
    session.move({COST: "50", name_of("bottle", "Red", "1", "", "b"): "out"})
    file = colours(tmp_path / "again")
    bottles = file.parent / "bottles.csv"
    bottles.write_text(bottles.read_text(encoding="utf-8").replace("Red,red,100,8,3,b\n", ""), encoding="utf-8")
    again = opened(file).study
    assert again is not None
    assert len(session.read_again(again)) == 1
    assert stands(session) == ["50"]
    assert session.study.settings.limits.cost_per_kg == 50


def test_what_was_tried_is_kept_when_the_study_is_read_again(study: Study, tmp_path: Path) -> None:
    session = Session(study)
    answer(session)
    session.move({COST: "50"})
    answer(session)
    session.move({LINES: "2"})
    again = opened(colours(tmp_path / "again")).study
    assert again is not None
    assert session.read_again(again) == {}
    assert set(session.setting.moves) == {COST, LINES}
    assert [each.stale for each in session.tried] == [True, True]
    assert all(each.setting.study is not study for each in session.tried)
    assert session.step(-1)
    assert set(session.setting.moves) == {COST}
    answer(session)
    assert [each.stale for each in session.tried] == [True, False]
