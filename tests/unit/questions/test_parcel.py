from __future__ import annotations

import datetime
import pickle
from pathlib import Path

import pytest
from tests.unit.questions.many_helpers import study, undated

from reaccord.domain.study import Study
from reaccord.findings import InvalidInput
from reaccord.questions.many.parcel import Parcel, parcels
from reaccord.study.load import load_study

EXAMPLES = Path(__file__).parents[3] / "examples"


def sent(path: Path) -> Parcel:
    (parcel,) = parcels(path)
    found: Parcel = pickle.loads(pickle.dumps(parcel))
    return found


def same(one: Study, other: Study) -> None:
    assert (one.settings, one.target, one.stocks, one.rules) == (
        other.settings,
        other.target,
        other.stocks,
        other.rules,
    )
    assert (one.inputs, one.warnings, one.carriers) == (other.inputs, other.warnings, other.carriers)


@pytest.mark.parametrize("path", sorted(EXAMPLES.glob("*/*.toml")), ids=lambda path: f"{path.parent.name}-{path.stem}")
def test_what_arrives_is_what_the_files_say(path: Path) -> None:
    """Workbooks too, and whatever tables a study names."""
    same(sent(path).open(), load_study(path))


def test_it_can_be_opened_where_no_file_is(tmp_path: Path) -> None:
    """A shelf beside the folder, as several studies share it; then everything is gone."""
    path = study(tmp_path, "s", settings={"shelf": {"bottles": "../bottles.csv"}})
    (tmp_path / "s" / "bottles.csv").rename(tmp_path / "bottles.csv")
    before = load_study(path)
    parcel = sent(path)
    for file in (path, tmp_path / "s" / "target.csv", tmp_path / "bottles.csv"):
        file.unlink()
    same(parcel.open(), before)
    assert [item["file"] for item in parcel.inputs] == ["study.toml", "target.csv", "../bottles.csv"]


def test_the_day_is_that_of_packing(tmp_path: Path) -> None:
    parcel = sent(undated(tmp_path, "s"))
    assert parcel.date == datetime.date.today()
    moved = Parcel(parcel.name, None, datetime.date(2020, 2, 2), parcel.files, parcel.unread, parcel.said)
    assert moved.open().date == datetime.date(2020, 2, 2)


@pytest.mark.parametrize("content", [b"title = ", b"\xff", b""])
def test_a_study_file_that_cannot_be_read_says_what_load_study_says(content: bytes, tmp_path: Path) -> None:
    path = study(tmp_path, "s")
    path.write_bytes(content)
    with pytest.raises(InvalidInput) as here:
        load_study(path)
    with pytest.raises(InvalidInput) as there:
        sent(path).open()
    assert there.value.errors == here.value.errors
    assert sent(path).date is None


def test_missing_files_are_told_with_the_place_they_were_looked_for(tmp_path: Path) -> None:
    path = study(tmp_path, "s")
    (tmp_path / "s" / "bottles.csv").unlink()
    with pytest.raises(InvalidInput) as here:
        load_study(path)
    with pytest.raises(InvalidInput) as there:
        sent(path).open()
    assert there.value.errors == here.value.errors
    assert str(tmp_path / "s" / "bottles.csv") in str(there.value)
