"""The example notebook does what it shows."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

pytest.importorskip("nbclient", reason="needs nbclient")
pytest.importorskip("ipykernel", reason="needs ipykernel")


@pytest.mark.sweep
@pytest.mark.quick
def test_a_fresh_kernel_prints_what_the_notebook_shows(tmp_path: Path) -> None:
    from tests.docs.notebook import NOTEBOOK, plain, run, shown, stored

    folder = tmp_path / "geranium"
    shutil.copytree(NOTEBOOK.parent, folder)
    ran, kept = run(folder), stored()
    assert plain(ran) == plain(kept), "python -m tests.docs.notebook writes it anew"
    assert len(shown(ran)) == len(shown(kept)) >= 3
    assert all('class="reaccord"' in html or "<table" in html for html in shown(ran))
