from __future__ import annotations

import shutil
from collections.abc import Callable
from pathlib import Path

import pytest
from tests.cli.large import write_large
from tests.cli.process import EXAMPLE, Ended, reaccord


@pytest.fixture
def study(tmp_path: Path) -> Path:
    """A copy of the example that a test may change."""
    folder = tmp_path / "geranium"
    shutil.copytree(EXAMPLE, folder)
    return folder / "study.toml"


@pytest.fixture
def changed(study: Path) -> Callable[[str, str], Path]:
    """Change one piece of text in the study file."""

    def change(old: str, new: str) -> Path:
        text = study.read_text(encoding="utf-8")
        assert old in text
        study.write_text(text.replace(old, new), encoding="utf-8")
        return study

    return change


@pytest.fixture(scope="session")
def large(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A study that takes much longer to prove than any test waits."""
    return write_large(tmp_path_factory.mktemp("large"))


@pytest.fixture(scope="session")
def fitted() -> Ended:
    """`fit` on the example, as JSON."""
    return reaccord("fit", EXAMPLE / "study.toml", "--output", "json")


@pytest.fixture(scope="session")
def candle() -> Ended:
    """`fit` on the candle, as JSON."""
    return reaccord("fit", EXAMPLE / "candle.toml", "--output", "json")
