"""The manual: every page shows, says what the program knows, and its Python runs."""

from __future__ import annotations

import ast
import re
import shlex
import subprocess
import sys
from collections.abc import Iterator, Mapping
from pathlib import Path

import pytest
import typer.main
from tests.docs.papers import ROOT, fenced

from reaccord import findings
from reaccord.cli.app import app_of
from reaccord.cli.command import Call
from reaccord.cli.help import help, rendered  # noqa: A004
from reaccord.cli.options import Options
from reaccord.cli.result import Result
from reaccord.cli.searching import Interrupted
from reaccord.domain import settings
from reaccord.findings import UsageError
from reaccord.manual import pages
from reaccord.manual.schema import KEYS
from reaccord.tables.columns import TABLES

MANUAL = ROOT / "src" / "reaccord" / "manual"
ROOT_COMMAND = typer.main.get_command(app_of())
COMMANDS = ROOT_COMMAND.commands  # type: ignore[attr-defined]
PAGES: Mapping[str, str] = {topic: pages.page(topic) for topic in pages.TOPICS}
CODE = re.compile(r"[a-z]+(?:-[a-z\d]+)*")
NOTED = {"error", "warn", "warn_once", "_error", "Finding"}
"""Calls that note a finding: its code is among their first arguments."""
SEVERITIES = {"error", "warning"}
DO = (
    "add ask call change check clear close convert delete fill format give install join keep let look make mend name "
    "put read renew run save say show smell split take type unmerge write"
)
VERBS = "|".join(f"[{verb[0]}{verb[0].upper()}]{verb[1:]}" for verb in DO.split())
CURES = re.compile(rf"[?]|(?:^|[.;,] )(?:{VERBS})\b|[Nn]othing to do")
"""A sentence that asks whether something is meant, or begins with what to do, or says that nothing is to be done."""


def asked(topic: str) -> Result:
    return help(topic=topic).run(Options())


def shown(topic: str, width: int = 120) -> str:
    return asked(topic).text(width)


def test_every_page_is_a_topic_and_the_other_way_round() -> None:
    assert {path.stem for path in MANUAL.glob("*.md")} == set(pages.TOPICS)


@pytest.mark.parametrize("topic", pages.TOPICS)
def test_every_topic_shows(topic: str) -> None:
    page = shown(topic)
    assert page == PAGES[topic]
    assert page.startswith(f"# {topic}: {pages.line(topic)}\n")
    assert "{{" not in page
    styled = rendered(page, 80)
    assert "\x1b[" in styled
    bare = re.sub(r"\x1b\[[\d;]*m", "", styled)
    assert all(len(line) <= 80 for line in bare.splitlines())
    assert pages.line(topic).split()[0] in bare


def test_the_list_has_every_topic_with_its_line() -> None:
    listed = {line.split()[0]: line for line in shown("").splitlines() if line.startswith("  ")}
    assert set(listed) == set(pages.TOPICS)
    assert all(pages.line(topic) in line for topic, line in listed.items())


def test_an_unknown_topic_names_the_nearest() -> None:
    with pytest.raises(UsageError, match='Did you mean "tables"'):
        asked("tabels")


def test_a_command_has_its_section_or_says_where_its_words_stand() -> None:
    assert shown("Tables") == PAGES["tables"]
    assert shown("frontier").startswith("## frontier\n\nThe whole curve")
    assert "## overdose" not in shown("frontier")
    assert asked("frontier").data["topics"] == {"answers": pages.line("answers")}
    with pytest.raises(UsageError, match="What a command takes: reaccord COMMAND --help"):
        asked("verify-certificate")


def test_the_list_keeps_the_width() -> None:
    assert all(len(line) <= 60 for line in shown("", 60).splitlines())
    assert " ".join(shown("", 60).split()) == " ".join(shown("").split())


def test_a_program_gets_the_page_and_a_spreadsheet_the_list() -> None:
    assert asked("names").data == {"topics": {"names": pages.line("names")}, "page": PAGES["names"]}
    head, *lines = asked("").csv().splitlines()
    assert (head, [line.split(",")[0] for line in lines]) == ("topic,about", list(pages.TOPICS))


@pytest.mark.parametrize("topic", ["", "names"])
def test_the_log_says_which_page(topic: str, tmp_path: Path) -> None:
    words = ["help", *topic.split(), "--quiet", "--out", str(tmp_path / "page.txt"), "--log", str(tmp_path / "log")]
    call = app_of()(words, prog_name="reaccord", standalone_mode=False)
    assert (call.command, call.subject) == ("help", topic)


def test_every_section_of_the_schema_is_filled_in_once() -> None:
    """Written nowhere by hand: a page holds the placeholder, the schema the words."""
    asked = [found for topic in pages.TOPICS for found in re.findall(r"^\{\{(.*)\}\}$", pages.written(topic), re.M)]
    assert sorted(asked) == sorted([*(f"columns {name}" for name in TABLES), *(f"keys {name}" for name in KEYS)])


@pytest.mark.parametrize("name", [*TABLES, *KEYS])
def test_every_column_and_key_is_in_the_manual(name: str) -> None:
    """Name, allowed words and meaning in one row."""
    fields = {column.name: column for column in TABLES[name]} if name in TABLES else KEYS[name]
    rows = [row for page in PAGES.values() for row in table_rows(page)]
    for label, spec in fields.items():
        fitting = [row for row in rows if row[0] == f"`{label}`" and len(row) > 2 and row[2].startswith(spec.meaning)]
        assert fitting, label
        assert all(any(f"`{word}`" in row[1] for row in fitting) for word in spec.choices), label
        assert not spec.required or any("needed" in row[1] for row in fitting), label


def table_rows(page: str) -> Iterator[list[str]]:
    for line in page.splitlines():
        if line.startswith("| `"):
            yield [cell.strip() for cell in line.strip("|").split(" | ")]


def test_what_holds_without_a_key_is_what_the_settings_say() -> None:
    (row,) = (row for row in table_rows(PAGES["closeness"]) if row[0] == "`floor`")
    assert row[2].endswith(f"without it {settings.FitSettings().floor * 100:g} %")


def codes_in_source() -> Iterator[str]:
    """Yield the code of every finding and failure that the source can raise."""
    for path in sorted((ROOT / "src" / "reaccord").rglob("*.py")):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.Call) and called(node) in NOTED:
                words = [part.value for part in node.args[:2] if isinstance(part, ast.Constant)]
                yield from (str(word) for word in words if CODE.fullmatch(str(word)) and word not in SEVERITIES)


def called(node: ast.Call) -> str:
    return node.func.attr if isinstance(node.func, ast.Attribute) else getattr(node.func, "id", "")


def classes_below(kind: type) -> set[type]:
    return {kind}.union(*(classes_below(below) for below in kind.__subclasses__()))


def test_every_finding_stands_among_the_errors_and_no_other() -> None:
    load_every_module()
    raised = {error.code for error in classes_below(findings.ReaccordError)}  # type: ignore[attr-defined]
    known = {*codes_in_source(), *raised}
    assert len(known) > 100
    told = [
        word
        for line in PAGES["errors"].splitlines()
        if line.startswith("- `")
        for word in re.findall(r"`([^`]*)`", line.partition(": ")[0])
    ]
    assert sorted(told) == sorted(known)


def load_every_module() -> None:
    """Failures are found as classes: those of every room."""
    import reaccord.cli.streams
    import reaccord.cli.verify_certificate
    import reaccord.questions.many.run
    import reaccord.solvers.cvxpy_runs  # noqa: F401


def test_every_error_has_a_cure() -> None:
    """Not only what is wrong."""
    points = re.split(r"^- ", PAGES["errors"], flags=re.MULTILINE)[1:]
    for point in points:
        codes, _, words = point.partition(": ")
        words = " ".join(words.partition("\n\n")[0].split())
        assert CURES.search(words), f"{codes}: {words}"


def test_every_exit_code_is_told() -> None:
    load_every_module()
    told = {int(found) for found in re.findall(r"^\| (\d+) ", PAGES["errors"], re.M)}
    raised = {error.exit_code for error in classes_below(findings.ReaccordError)}  # type: ignore[attr-defined]
    assert Interrupted.exit_code in raised
    assert told == raised | {0, 5}


@pytest.mark.parametrize("topic", pages.TOPICS)
def test_every_command_line_can_be_called(topic: str) -> None:
    """Parsed as typed, not run; words in capitals stand for what a person puts there."""
    told = [line for kind, block in fenced(PAGES[topic]) if kind == "bash" for line in block.splitlines()]
    told += re.findall(r"`(reaccord [^`]*)`", PAGES[topic])
    for line in told:
        words = shlex.split(line)[1:]
        if words[0] == "COMMAND" or (words[0] in COMMANDS and len(words) == 1):
            continue
        parsed = app_of()(words, prog_name="reaccord", standalone_mode=False)
        assert isinstance(parsed, Call), line
    known = {
        name for command in (ROOT_COMMAND, *COMMANDS.values()) for option in command.params for name in option.opts
    }
    assert set(re.findall(r"`(--[a-z-]+)", PAGES[topic])) <= known | {"--help"}


@pytest.mark.parametrize("number", range(6))
def test_the_python_runs(number: int, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    code = [block for kind, block in fenced(PAGES["python"]) if kind == "python"]
    assert len(code) == 6
    monkeypatch.chdir(ROOT)
    exec(compile(code[number], f"help python, block {number + 1}", "exec"), {})
    printed = capsys.readouterr()
    assert printed.err == ""
    assert bool(printed.out) == ("print(" in code[number])


def test_help_stays_light() -> None:
    """The list of commands loads nothing that draws pages; a page loads nothing that computes."""
    for words, heavy in ((["--help"], {"rich.markdown", "numpy", "reaccord.manual"}), (["help", "tables"], {"numpy"})):
        code = (
            "import sys\n"
            "from reaccord.cli.main import run\n"
            f"try:\n    run({words})\nexcept SystemExit as end:\n    assert not end.code, end.code\n"
            f"assert not {heavy} & set(sys.modules), {heavy} & set(sys.modules)\n"
        )
        done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=False)
        assert done.returncode == 0, done.stderr
