"""`desk` before it serves: what it needs, a port in use, a second desk, no browser."""

from __future__ import annotations

import importlib.util
import socket
import webbrowser
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from tests.cli.process import reaccord

from reaccord.desk import run


@pytest.fixture
def started(monkeypatch: pytest.MonkeyPatch) -> list[run.Desk]:
    """Desks that would be served; each ends at once."""
    found: list[run.Desk] = []
    monkeypatch.setattr(run, "_serve", lambda desk, listener, port: found.append(desk))
    return found


def test_without_the_extra_one_sentence_says_what_to_install(study: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    known = importlib.util.find_spec
    monkeypatch.setattr(importlib.util, "find_spec", lambda name: None if name == "uvicorn" else known(name))
    ended = reaccord("desk", study)
    assert ended.code == 2
    assert ended.err.strip().endswith(
        "the desk needs uvicorn as well; install what it needs with: pip install 'reaccord[desk]'"
    )


def test_a_port_in_use_is_said(study: Path, started: list[run.Desk]) -> None:
    with socket.socket() as taken:
        taken.bind((run.HOST, 0))
        taken.listen()
        port = taken.getsockname()[1]
        ended = reaccord("desk", study, "--port", str(port), "--no-browser")
    assert ended.code == 2
    assert f"cannot listen at port {port}: Address already in use. Without --port a free one is taken." in ended.err
    assert reaccord("desk", study, "--port", "70000").code == 2
    assert started == []


def test_the_address_is_said_and_a_browser_that_is_not_there(
    study: Path, started: list[run.Desk], monkeypatch: pytest.MonkeyPatch
) -> None:
    def none() -> None:
        raise webbrowser.Error

    monkeypatch.setattr(webbrowser, "get", none)
    ended = reaccord("desk", study)
    assert ended.code == 0
    assert f"/{started[0].secret}/" in ended.err
    assert "No browser could be opened." in ended.err
    assert ended.out == "Nothing was saved.\n"
    quiet = reaccord("desk", study, "--quiet", "--no-browser").err.splitlines()
    assert len(quiet) == 1
    assert started[1].secret in quiet[0]
    assert started[0].secret != started[1].secret


@contextmanager
def another(study: Path) -> Iterator[None]:
    with run.alone(study.resolve()) as first:
        assert first
        yield


def test_a_second_desk_on_one_study_is_said(study: Path, started: list[run.Desk]) -> None:
    fcntl = pytest.importorskip("fcntl", reason="this system cannot tell")
    assert fcntl
    with another(study):
        assert run.ANOTHER in reaccord("desk", study, "--no-browser").err
        assert started[0].said == (run.ANOTHER,)
    assert run.ANOTHER not in reaccord("desk", study, "--no-browser").err


def test_a_study_with_findings_is_opened_all_the_same(study: Path, started: list[run.Desk]) -> None:
    study.write_text(study.read_text(encoding="utf-8").replace("155", '"dear"'), encoding="utf-8")
    ended = reaccord("desk", study, "--no-browser")
    assert ended.code == 0
    assert "1 finding in study.toml: the page shows them" in ended.err
    assert [finding.place.column for finding in started[0].read.findings] == ["limits.cost_per_kg"]
