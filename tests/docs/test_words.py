"""What README and help say of commands and options is what the program knows."""

from __future__ import annotations

import re
import shlex

import pytest
import typer.main
from tests.docs.papers import ROOT, blocks, text

from reaccord.cli.app import app_of

COMMANDS = typer.main.get_command(app_of()).commands  # type: ignore[attr-defined]
LONGEST = 250
"""Lines of the README: a person reads it at a sitting."""


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_option_has_a_help_text(command: str) -> None:
    assert COMMANDS[command].help
    assert all(parameter.help for parameter in COMMANDS[command].params)


def test_no_option_is_told_that_nothing_takes() -> None:
    known = {name for command in COMMANDS.values() for option in command.params for name in option.opts}
    told = set(re.findall(r"`(--[a-z-]+)", text("README.md")))
    assert told
    assert told <= known


def test_the_readme_is_short() -> None:
    assert len(text("README.md").splitlines()) <= LONGEST


def test_the_first_two_commands_are_those_that_are_run_before_a_change_is_taken() -> None:
    first, *_ = blocks(text("README.md"), "bash")
    assert [line.rpartition(".venv/bin/")[2].split()[0] for line in first.splitlines()] == ["reaccord", "pytest"]


def test_files_in_bash_lines_exist() -> None:
    """The README's own study is made by its commands; its first block and those of DEVELOPERS work on what is here."""
    for paper, block in [("README.md", blocks(text("README.md"), "bash")[0])] + [
        ("DEVELOPERS.md", block) for block in blocks(text("DEVELOPERS.md"), "bash")
    ]:
        for word in shlex.split(block, comments=True):
            if "/" in word and not word.startswith(".venv/"):
                assert (ROOT / word).exists(), f"{paper} names {word}"


@pytest.mark.parametrize("paper", ["README.md", "DEVELOPERS.md"])
def test_links_and_named_files_exist(paper: str) -> None:
    for link in re.findall(r"\]\(([^)#:]+)\)", text(paper)):
        assert (ROOT / link).exists(), link
    for name in re.findall(r"`((?:tests|examples|benchmarks|src|\.ci)/[\w./-]*)`", text(paper)):
        assert (ROOT / name).exists(), name


def test_the_plan_of_the_house_names_every_room() -> None:
    (plan,) = blocks(text("DEVELOPERS.md"))
    house = ROOT / "src" / "reaccord"
    named = set(re.findall(r"(?<![\w/])(\w+(?:\.py|/))", plan))
    inside = [p for p in house.iterdir() if not p.name.startswith("_")]
    rooms = {f"{p.name}/" if p.is_dir() else p.name for p in inside if p.is_dir() or p.suffix == ".py"}
    assert rooms <= named, "rooms the plan does not name"
    files = {f"{p.name}/" if p.is_dir() else p.name for p in house.rglob("*")}
    assert named <= files, "the plan names what is not there"
