"""What the README says of commands, options, exit codes, keys and columns is what the program knows."""

from __future__ import annotations

import re
import shlex

import pytest
import typer.main
from tests.docs.papers import ROOT, blocks, rows, section, text

from reaccord import findings
from reaccord.cli.app import app
from reaccord.cli.searching import Interrupted
from reaccord.tables.columns import TABLES
from reaccord.tables.studyfile import AMOUNT, SECTIONS

OWN = "A study of your own"
COMMANDS = typer.main.get_command(app).commands  # type: ignore[attr-defined]


def classes_below(kind: type) -> set[type]:
    return {kind}.union(*(classes_below(below) for below in kind.__subclasses__()))


def test_every_command_is_in_the_table_with_its_arguments() -> None:
    told = [row[0].strip("`") for row in rows(section("README.md", OWN)) if row[0].startswith("`reaccord")]
    known = []
    for name, command in COMMANDS.items():
        arguments = [p.metavar + "..." * (p.nargs < 0) for p in command.params if p.param_type_name == "argument"]
        known.append(" ".join(["reaccord", name, *arguments]))
    assert sorted(told) == sorted(known)


@pytest.mark.parametrize("command", COMMANDS)
def test_every_option_is_told(command: str) -> None:
    words = section("README.md", OWN)
    for option in COMMANDS[command].params:
        for name in option.opts if option.param_type_name == "option" else ():
            assert name in {"-h", "--help"} or f"`{name}" in words, f"{command} {name} is not in the README"


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_and_option_has_a_help_text(command: str) -> None:
    assert COMMANDS[command].help
    assert all(parameter.help for parameter in COMMANDS[command].params)


def test_no_option_is_told_that_nothing_takes() -> None:
    known = {name for command in COMMANDS.values() for option in command.params for name in option.opts}
    assert set(re.findall(r"`(--[a-z-]+)", text("README.md"))) <= known


def test_every_exit_code_is_told() -> None:
    told = {int(row[0]) for row in rows(section("README.md", OWN)) if row[0].isdigit()}
    raised = {error.exit_code for error in classes_below(findings.ReaccordError)}  # type: ignore[attr-defined]
    assert Interrupted.exit_code in raised
    assert told == raised | {0, 5}


@pytest.mark.parametrize("table", TABLES)
def test_every_column_is_told(table: str) -> None:
    heading = {"formula": "Formula"}.get(table, table.capitalize())
    told = [(row[0], row[1]) for row in rows(section("README.md", heading))]
    known = [(f"**`{c.name}`**" if c.required else f"`{c.name}`", c.meaning) for c in TABLES[table]]
    assert [name for name, _ in told] == [name for name, _ in known]
    for (name, words), (_, meaning) in zip(told, known, strict=True):
        assert words.startswith(meaning), f"{name}: {words}"


def test_every_key_is_told() -> None:
    told = {row[0]: row[1] for row in rows(section("README.md", "Study file"))}
    keys = {f"{name}.{key}" if name else key: spec for name, keys in SECTIONS.items() for key, spec in keys.items()}
    keys |= {f"limits.amount.{key}": spec for key, spec in AMOUNT.items()}
    known = {f"**`{name}`**" if s.required and "amount." not in name else f"`{name}`": s for name, s in keys.items()}
    assert sorted(told) == sorted(known)
    for name, spec in known.items():
        assert told[name].startswith(spec.meaning), name
        assert all(choice in told[name] for choice in spec.choices), name


@pytest.mark.parametrize("paper", ["README.md", "DEVELOPERS.md"])
def test_files_in_bash_lines_exist(paper: str) -> None:
    for block in blocks(text(paper), "bash"):
        for word in shlex.split(block, comments=True):
            if "/" in word and not word.startswith((".venv/", "my-study/")):
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
