"""Tab completes commands, options and pages: asked as a shell asks, and once by a real bash."""

from __future__ import annotations

from pathlib import Path

import pytest
from tests.docs.shown import in_a_shell

WAYS = (("reaccord fr", "frontier"), ("reaccord fit --pri", "--prices"), ("reaccord help mathe", "mathematics"))


def test_a_real_bash_completes_words(tmp_path: Path) -> None:
    """The script that `--show-completion` prints, run by the shell it is for; file names are left to the shell."""
    lines = [
        "reaccord --show-completion > it",  # a shell that is asked by name: nothing is installed
        ". ./it",
        *(
            f"COMP_WORDS=({words}); COMP_CWORD={len(words.split()) - 1}; _reaccord_completion reaccord; "
            'echo "${COMPREPLY[*]}"'
            for words, _ in WAYS
        ),
        "complete -p reaccord",
    ]
    ended = in_a_shell("\n".join(lines), tmp_path)
    assert ended.returncode == 0, ended.stdout
    *completed, asked = ended.stdout.split("\n")[:-1]
    assert completed == [whole for _, whole in WAYS]
    assert "-o default" in asked


@pytest.mark.parametrize("shell", ["zsh", "fish", "bash"])
def test_it_is_installed_for_the_shell_that_is_used(
    shell: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    from typer import completion

    monkeypatch.setenv("HOME", str(tmp_path))
    monkeypatch.setattr(Path, "home", lambda: tmp_path)
    name, path = completion.install(shell=shell, prog_name="reaccord", complete_var="_REACCORD_COMPLETE")
    assert name == shell
    assert path.is_relative_to(tmp_path)
    assert "_REACCORD_COMPLETE" in path.read_text(encoding="utf-8")
