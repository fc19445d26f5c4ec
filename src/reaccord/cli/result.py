"""What a command returns, and the one place that prints: a result or a failure, for people or for scripts."""

from __future__ import annotations

import json
import os
import sys
import traceback
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from functools import cached_property
from pathlib import Path
from typing import Any

from reaccord import SCHEMA
from reaccord.cli import remarks, signals
from reaccord.cli.options import Options, Output
from reaccord.cli.streams import NO_TERMINAL, StdoutLost, say, say_wrapped, tell, width
from reaccord.findings import Finding, InvalidInput, ReaccordError, UsageError


@dataclass(frozen=True)
class Result:
    """What came of a command: data for scripts, `text(width)` for people, `csv()` for tables.

    `file` returns what a file of another kind holds, given its ending: a picture, a sheet.
    """

    data: Mapping[str, Any]
    text: Callable[[int], str]
    csv: Callable[[], str]
    status: str = "done"
    exit_code: int = 0
    warnings: tuple[Finding, ...] = ()
    file: Callable[[str], str | bytes] | None = None


class Later(Mapping[str, Any]):
    """Data made when first asked for: a table or a formula (CSV) asks for none."""

    def __init__(self, make: Callable[[], Mapping[str, Any]]) -> None:
        self._make = make

    @cached_property
    def _made(self) -> Mapping[str, Any]:
        return self._make()

    def __getitem__(self, name: str) -> Any:
        return self._made[name]

    def __iter__(self) -> Iterator[str]:
        return iter(self._made)

    def __len__(self) -> int:
        return len(self._made)


class Unforeseen(ReaccordError):
    """A fault of ours; what was raised is its cause."""

    def __init__(self, fault: BaseException) -> None:
        super().__init__(f"A fault of ours: {type(fault).__name__}: {fault}")
        self.__cause__ = fault


class Unwritten(UsageError):
    """The output file could not be written; what took long to find is on stdout instead."""

    def __init__(self, why: UsageError) -> None:
        super().__init__(f"{why} The result went to stdout instead.")


def envelope(
    command: str,
    status: str,
    exit_code: int,
    data: Mapping[str, Any],
    findings: tuple[Iterable[Finding], Iterable[Finding]],
) -> str:
    """Return the JSON of `interface`: also what is printed on failure. NaN and infinity are refused."""
    errors, warnings = findings
    return json.dumps(
        {
            "schema": SCHEMA,
            "command": command,
            "status": status,
            "exit_code": exit_code,
            "data": dict(data),
            "errors": [finding.as_dict() for finding in errors],
            "warnings": [finding.as_dict() for finding in warnings],
        },
        ensure_ascii=False,
        indent=1,
        allow_nan=False,
    )


def emit(command: str, result: Result, options: Options, study: str, formulas: Collection[str] = ()) -> None:
    """Write a result to the output file, if there is one, and print it on stdout; warnings follow it on stderr.

    `study` and `formulas` are the files it is of.

    Raises
    ------
    Unwritten
        If the file cannot be written; the result is on stdout then, its JSON with the error.
    """
    lost = None
    if options.out is not None:
        lost = _written(options.out, _text(command, result, options.form_of_file, NO_TERMINAL))
    elif options.own is not None and result.file is not None:
        lost = _written(options.own, result.file(options.own.suffix.lower()))
    text = _text(command, result, options.form, width(), lost)
    signals.let_go()  # nothing may follow a result that was cut short on its way
    try:
        if options.out is None or lost is not None or _wanted_on_stdout(options.out):
            tell(text)
    finally:
        if options.form != "json" and not options.quiet:
            _say_all(remarks.told(command, result.warnings, study, formulas))
    if lost is not None:
        raise lost
    signals.fall_silent()


def _written(path: Path, content: str | bytes) -> Unwritten | None:
    """Write the output file; return why that cannot be done."""
    from reaccord.report.files import write_whole

    try:
        write_whole(path, content)
    except UsageError as fault:
        return Unwritten(fault)
    return None


def _wanted_on_stdout(out: Path) -> bool:
    """Whether a result that is in its file is printed as well: not where stdout is closed, nor on itself."""
    if sys.stdout is None:
        return False
    with suppress(OSError, ValueError):  # stdout may be no file, and the output file a pipe that is closed by now
        return not os.path.samestat(out.stat(), os.fstat(sys.stdout.fileno()))
    return True


def _text(command: str, result: Result, form: Output, columns: int, lost: Unwritten | None = None) -> str:
    """Return a result in a form, a table so many columns wide; JSON bears that it could not be written, if so."""
    if form == "csv":
        return result.csv()
    if form == "table":
        return result.text(columns)
    status, code = (result.status, result.exit_code) if lost is None else (lost.status, lost.exit_code)
    errors = () if lost is None else lost.errors
    return envelope(command, status, code, result.data, (errors, result.warnings)) + "\n"


def emit_error(command: str, error: ReaccordError, form: Output, quiet: bool) -> None:
    """Print a failure: as JSON on stdout where that was asked for, else as sentences on stderr."""
    if isinstance(error, Unforeseen) and error.__cause__ is not None:
        say("".join(traceback.format_exception(error.__cause__)).rstrip())
    if form == "json" and not isinstance(error, StdoutLost | Unwritten):
        tell(envelope(command, error.status, error.exit_code, {}, (error.errors, error.warnings)) + "\n")
        return
    _say_all(map(str, error.errors))
    if not quiet:
        _say_all(remarks.told(command, error.warnings, error.study))
    if error.exit_code == InvalidInput.exit_code:
        count = len(error.errors)
        say(f"{count} finding{'s' if count != 1 else ''}, nothing was solved.")


def _say_all(lines: Iterable[str]) -> None:
    for line in lines:
        say_wrapped(line)
