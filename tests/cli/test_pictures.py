"""`--out` as a picture: of what is off and what moves; a place that cannot be written loses nothing."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Callable
from pathlib import Path

import pytest
from tests import studies
from tests.docs.shown import called

from reaccord.cli import options as opt
from reaccord.cli.app import app_of
from reaccord.cli.result import Unwritten, emit
from reaccord.findings import UsageError

COMPOSITIONS = "material,part,share,low,high\nRose-like,geraniol,70,55,80\nRose-like,citronellol,20,,"
BOTTLES = f"{studies.BOTTLES}\nRose-like,,"
FORMULA = "material,grams\nGeraniol,5\nCitronellol,4\nRose-like,1"


def words_of(line: str, ending: str) -> str:
    drawn = called(line).file
    assert drawn is not None
    picture = drawn(ending)
    assert isinstance(picture, bytes)
    return " ".join(" ".join(text.split()) for text in ET.fromstring(picture).itertext())


@pytest.fixture(autouse=True)
def _drawn(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A small study, all invented, and a formula of it in the folder where the test runs."""
    pytest.importorskip("matplotlib", reason="needs matplotlib: pip install 'reaccord[plots]'")
    title = {"title": "small"}
    studies.folder(tmp_path, bottles=BOTTLES, compositions=COMPOSITIONS, settings=title)
    (tmp_path / "mine.csv").write_text(FORMULA, encoding="utf-8")
    monkeypatch.chdir(tmp_path)


def test_given_formulas_beside_each_other() -> None:
    words = words_of("reaccord compare study.toml mine.csv mine.csv --quiet", ".svg")
    assert "mine (2)" in words
    assert "the closest of 2 formulas is mine" in words
    with pytest.raises(UsageError, match="at most 6 formulas"):
        called(f"reaccord compare study.toml {' '.join(['mine.csv'] * 7)} --out x.png")


def test_the_spread_says_what_moves() -> None:
    words = words_of("reaccord spread study.toml --formula mine.csv --draws 200 --quiet", ".svg")
    assert "moves most" in words
    assert "from the 5 % to the 95 % of the draws" in words


def test_a_picture_that_cannot_be_written_loses_nothing(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    call = app_of()(
        ["compare", "study.toml", "mine.csv", "--quiet", "--out", "a/b.svg"],
        prog_name="reaccord",
        standalone_mode=False,
    )
    monkeypatch.setattr(opt.Options, "guard", lambda *_: None)  # the folder goes away after the first look
    options = call.options()
    result = call.run(options)
    with pytest.raises(Unwritten, match=r"there is no folder|No such file"):
        emit("compare", result, options, "study.toml")
    assert "small: " in capsys.readouterr().out
    assert not list(Path().glob("**/*.svg"))


@pytest.mark.parametrize("command", ["fit", "compare", "frontier", "spread"])
def test_the_help_names_the_endings(command: str, capsys: pytest.CaptureFixture[str]) -> None:
    app_of()([command, "--help"], prog_name="reaccord", standalone_mode=False)
    assert "(.svg, .png, .pdf)" in " ".join(capsys.readouterr().out.split())


def test_without_what_draws_nothing_is_read(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr("reaccord.report.pictures.find_spec", lambda _: None)
    made: Callable[[], object] = app_of()(
        ["fit", "none.toml", "--out", "a.svg"], prog_name="reaccord", standalone_mode=False
    ).options
    with pytest.raises(UsageError, match=r"install it with: pip install 'reaccord\[plots\]'"):
        made()
