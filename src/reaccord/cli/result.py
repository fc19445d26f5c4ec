"""What a command returns, and the one place that prints it."""

from __future__ import annotations

import json
import os
import sys
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Literal, TextIO

from reaccord.findings import Finding, ReaccordError, UsageError
from reaccord.report.files import refuse_inputs, write_whole

SCHEMA = 1
Output = Literal["table", "json", "csv"]


@dataclass(frozen=True)
class Options:
    """What every command takes."""

    output: Output | None = None
    out: Path | None = None
    quiet: bool = False
    log: Path | None = None

    @property
    def form(self) -> Output:
        """The form asked for, else the one the ending of the output file says, else a table."""
        if self.output is not None:
            return self.output
        ending = self.out.suffix.lower() if self.out else ""
        return {".json": "json", ".csv": "csv"}.get(ending, "table")  # type: ignore[return-value]


@dataclass(frozen=True)
class Result:
    """A command's result: data for scripts, `text(width)` for people, `csv()` for tables."""

    command: str
    status: str
    exit_code: int
    data: Mapping[str, Any]
    text: Callable[[int], str]
    csv: Callable[[], str]
    warnings: tuple[Finding, ...] = ()


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


def emit(result: Result, options: Options) -> None:
    """Print a result on stdout, or write it to the output file; warnings go to stderr."""
    if options.form == "json":
        text = envelope(result.command, result.status, result.exit_code, result.data, ((), result.warnings)) + "\n"
    else:
        text = result.csv() if options.form == "csv" else result.text(width())
        if not options.quiet:
            say_findings((), result.warnings)
    if options.out is None:
        tell(text)
    else:
        write_whole(options.out, text)


def emit_error(command: str, error: ReaccordError, form: Output, quiet: bool) -> None:
    """Print a failure: as JSON on stdout where that was asked for, else as sentences on stderr."""
    if form == "json":
        tell(envelope(command, error.status, error.exit_code, {}, (error.errors, error.warnings)) + "\n")
        return
    say_findings(error.errors, () if quiet else error.warnings)
    if error.exit_code == 3:
        count = len(error.errors)
        say(f"{count} finding{'s' if count != 1 else ''}, nothing was solved.")


def say_findings(errors: Iterable[Finding], warnings: Iterable[Finding]) -> None:
    """Print findings on stderr, one a line."""
    for finding in errors:
        say(str(finding))
    for finding in warnings:
        say(f"warning: {finding}")


def say(text: str) -> None:
    """Print a line on stderr."""
    _write(sys.stderr, text + "\n")


def tell(text: str) -> None:
    """Print on stdout."""
    _write(sys.stdout, text)


def _write(stream: TextIO, text: str) -> None:
    """Write; a reader who has gone away (`| head`) is no fault, what is left goes nowhere."""
    try:
        stream.write(text)
        stream.flush()
    except BrokenPipeError:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, stream.fileno())
        os.close(nowhere)


def width() -> int:
    """Return how wide a table may be: the terminal, or 120 where there is none."""
    import shutil

    return max(20, shutil.get_terminal_size((120, 24)).columns) if sys.stdout.isatty() else 120


def guard_outputs(options: Options, inputs: Iterable[Path]) -> None:
    """Refuse an output or a log that would fall on an input or on each other, or that has no folder to go to."""
    sources = list(inputs)
    for path in (options.out, options.log):
        if path is not None:
            refuse_inputs(path, sources)
            _needs_folder(path)
    if options.out is not None and options.log is not None and options.out.resolve() == options.log.resolve():
        raise UsageError("--out and --log name the same file.")


def _needs_folder(path: Path) -> None:
    """Say before a long search, not after it, that its result cannot be written."""
    if not path.parent.is_dir():
        raise UsageError(f"cannot write {path}: there is no folder {path.parent}.")
    if not os.access(path if path.exists() else path.parent, os.W_OK):
        raise UsageError(f"cannot write {path}: permission denied.")
