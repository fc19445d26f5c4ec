"""`--out` as a picture: of what is off and what moves; a place that cannot be written loses nothing."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.process import EXAMPLE
from tests.docs.shown import called

from reaccord.cli import options as opt
from reaccord.cli.app import app
from reaccord.cli.result import Unwritten, emit
from reaccord.findings import UsageError

STUDY = EXAMPLE / "study.toml"
FORMULA = EXAMPLE / "formula_2025.csv"


def words_of(line: str, ending: str) -> str:
    drawn = called(line).file
    assert drawn is not None
    picture = drawn(ending)
    assert isinstance(picture, bytes)
    return " ".join(" ".join(text.split()) for text in ET.fromstring(picture).itertext())


@pytest.fixture(autouse=True)
def _drawn() -> None:
    pytest.importorskip("matplotlib", reason="needs matplotlib: pip install 'reaccord[plots]'")


def test_given_formulas_beside_each_other() -> None:
    words = words_of(f"reaccord compare {STUDY} {FORMULA} {FORMULA} --quiet", ".svg")
    assert "formula_2025 (2)" in words
    assert "the closest of 2 formulas is formula_2025" in words or "holds every limit" in words
    with pytest.raises(UsageError, match="at most 6 formulas"):
        called(f"reaccord compare {STUDY} {' '.join([str(FORMULA)] * 7)} --out x.png")


def test_the_spread_says_what_moves() -> None:
    words = words_of(f"reaccord spread {STUDY} --formula {FORMULA} --draws 200 --quiet", ".svg")
    assert "moves most" in words
    assert "from the 5 % to the 95 % of the draws" in words


def test_a_picture_that_cannot_be_written_loses_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    call = app(
        ["compare", str(STUDY), str(FORMULA), "--quiet", "--out", str(tmp_path / "a" / "b.svg")],
        prog_name="reaccord",
        standalone_mode=False,
    )
    monkeypatch.setattr(opt.Options, "guard", lambda *_: None)  # the folder goes away after the first look
    options = call.options()
    result = call.run(options)
    with pytest.raises(Unwritten, match=r"there is no folder|No such file"):
        emit("compare", result, options, str(STUDY))
    assert "Garden geranium" in capsys.readouterr().out
    assert not list(tmp_path.iterdir())


@pytest.mark.parametrize("command", ["fit", "compare", "frontier", "spread"])
def test_the_help_names_the_endings(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    app([command, "--help"], prog_name="reaccord", standalone_mode=False)
    assert "(.svg, .png, .pdf)" in " ".join(capsys.readouterr().out.split())


def test_without_what_draws_nothing_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reaccord.report.pictures.find_spec", lambda _: None)
    made: Callable[[], object] = app(
        ["fit", "none.toml", "--out", "a.svg"], prog_name="reaccord", standalone_mode=False
    ).options
    with pytest.raises(UsageError, match=r"install it with: pip install 'reaccord\[plots\]'"):
        made()
