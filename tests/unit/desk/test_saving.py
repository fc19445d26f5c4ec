"""What is saved gives, read by `fit`, the study of the desk; nothing is written elsewhere, or over a file unasked."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.desk_studies import colours

from reaccord.answer.fit import fit
from reaccord.answer.judge import judge
from reaccord.desk.answering import Answered
from reaccord.desk.handle import name_of
from reaccord.desk.handles import handles
from reaccord.desk.opened import opened
from reaccord.desk.saving import Asked, offered, save
from reaccord.desk.session import Session
from reaccord.desk.study_text import study_files
from reaccord.study.load import load_study

EXAMPLE = Path(__file__).parents[3] / "examples" / "geranium" / "study.toml"
COST = name_of("limits", "cost_per_kg")
TRIED = {"switch": ("in", "out"), "share": ("0.3 %", "0.4 %"), "whole": ("3", "4"), "number": ("1.5", "2.5")}


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return colours(tmp_path / "study")


def session_of(file: Path) -> Session:
    study = opened(file).study
    assert study is not None
    return Session(study)


def answered(session: Session) -> Session:
    found = fit(session.study)
    number = session.setting.number
    assert session.heard(Answered(number, found.judged, found.amounts, "a verdict", "proven", found.reasons))
    return session


def test_every_handle_moved_alone_is_saved_so_that_it_reads_back(file: Path) -> None:
    moved, base = 0, session_of(file).base
    for handle in handles(base):
        for text in handle.choices or TRIED[handle.shape]:
            session = Session(base)
            if session.move({handle.name: text}):
                study_files(session.base, session.study, file, "x.toml")  # reads it back itself
                moved += 1
    assert moved > 40


def test_much_moved_at_once_is_saved_and_fit_gives_the_same_formula(file: Path) -> None:
    session = session_of(file)
    rule = next(handle.name for handle in handles(session.base) if handle.label == "Two: green")
    moves = {
        COST: "55.5",
        name_of("weight", "blue"): "2",
        name_of("bottle", "Red", "1", "", "b"): "out",
        name_of("at_most_g", "Blue"): "0.9",
        name_of("at_least_g", "Green"): "",
        name_of("sample", "G2"): "in",
        rule: "0.5 %",
    }
    assert session.move(moves)
    assert session.wrong == {}
    done = save(session, file, Asked("study", "new.toml"))
    assert done.written == ("new.toml", "new-target.csv", "new-limits.csv", "new-bottles.csv")
    assert "new-target.csv" in done.text
    there, here = fit(load_study(file.parent / "new.toml")), fit(session.study)
    assert there.amounts == here.amounts
    assert judge(there.study, there.amounts).closeness == here.judged.closeness


def test_comments_and_order_of_the_study_file_stay(tmp_path: Path) -> None:
    session = session_of(EXAMPLE)
    session.move(
        {COST: "140", name_of("batch", "carrier_max_g"): "", name_of("bottle", "Linalool 97", "1", "", "L-18"): "out"}
    )
    files = study_files(session.base, session.study, EXAMPLE, "study-2.toml")
    assert list(files) == ["study-2.toml"]
    old, new = EXAMPLE.read_text(encoding="utf-8").splitlines(), files["study-2.toml"].splitlines()
    changed = [
        (a, b) for a, b in zip([x for x in old if not x.startswith("carrier_max_g")], new, strict=True) if a != b
    ]
    assert changed == [
        (
            "cost_per_kg = 155                 # per kg of accord: the constituents named in the target",
            "cost_per_kg = 140                 # per kg of accord: the constituents named in the target",
        ),
        (
            'exclude = ["Citronella oil"]      # kept for the garden candles',
            'exclude = ["Citronella oil", "Linalool 97"]      # kept for the garden candles',
        ),
    ]


def test_a_file_is_written_over_by_its_name_alone(file: Path) -> None:
    session = session_of(file)
    session.move({COST: "50"})
    (file.parent / "mine.toml").write_text("mine", encoding="utf-8")
    done = save(session, file, Asked("study", "mine.toml"))
    assert done.again == ("mine.toml",)
    assert save(session, file, Asked("study", "mine.toml", ("other.toml",))).again == ("mine.toml",)
    assert (file.parent / "mine.toml").read_text(encoding="utf-8") == "mine"
    assert save(session, file, Asked("study", "mine.toml", ("mine.toml",))).written == ("mine.toml",)
    assert "50" in (file.parent / "mine.toml").read_text(encoding="utf-8")
    assert next(each["file"] for each in offered(file) if each["what"] == "study") == "study-2.toml"


@pytest.mark.parametrize(
    "name",
    [
        *("../out.toml", "/tmp/out.toml", "a/b.toml", "a\\b.toml", ".hidden.toml", "", ".toml", "x.csv", "a\n.toml"),
        *("study.toml", "link.toml", "x" * 200 + ".toml", "c:x.toml"),
    ],
)
def test_nothing_is_written_outside_the_folder_or_over_the_study(file: Path, tmp_path: Path, name: str) -> None:
    (file.parent / "link.toml").symlink_to(tmp_path / "elsewhere.toml")
    before = {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()}
    session = session_of(file)
    session.move({COST: "50"})
    done = save(session, file, Asked("study", name, (name,)))
    assert done.written == ()
    assert done.text
    assert {path: path.read_bytes() for path in tmp_path.rglob("*") if path.is_file()} == before
    assert save(session, file, Asked("nothing", "x.toml")).written == ()
    assert save(session, file, Asked("formula", "bottles.csv", ("bottles.csv",))).written == ()


def test_formula_page_sheet_and_workbook_are_of_the_formula_that_stands_there(file: Path) -> None:
    session = session_of(file)
    assert save(session, file, Asked("formula", "f.csv")).text == "There is no formula of these settings yet."
    answered(session)
    for what, name in (("formula", "f.csv"), ("page", "p.html"), ("sheet", "s.html"), ("workbook", "w.xlsx")):
        assert save(session, file, Asked(what, name)).written == (name,)
    assert (file.parent / "f.csv").read_text(encoding="utf-8").startswith("material,strength,carrier,lot,grams")
    assert "a verdict" in (file.parent / "p.html").read_text(encoding="utf-8")
    assert (file.parent / "w.xlsx").read_bytes()[:2] == b"PK"


def test_what_would_not_read_back_is_not_written(file: Path) -> None:
    session = session_of(file)
    session.move({name_of("weight", "blue"): "2"})
    target = file.parent / "target.csv"
    target.write_text(target.read_text(encoding="utf-8").replace("red,60", "red,50"), encoding="utf-8")
    done = save(session, file, Asked("study", "new.toml"))
    assert done.written == ()
    assert "others than here" in done.text


def test_a_study_file_that_is_gone_or_garbled_is_told_of_when_its_text_is_to_be_kept(file: Path) -> None:
    session = session_of(file)
    assert session.move({COST: "30"})
    file.write_text("[limits\n", encoding="utf-8")
    assert (
        "study.toml, whose text is kept, cannot be read any more" in save(session, file, Asked("study", "b.toml")).text
    )
    file.unlink()
    said = save(session, file, Asked("study", "b.toml"))
    assert "(No such file or directory). Put it back first." in said.text
    assert not said.written
