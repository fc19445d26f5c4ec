"""The one place that prints: a result or a failure, for people or for scripts."""

from __future__ import annotations

import json
import traceback
from collections.abc import Iterable, Mapping
from typing import Any

from reaccord.cli import signals
from reaccord.cli.result import Options, Output, Result
from reaccord.cli.streams import StdoutLost, say, tell, width
from reaccord.findings import Finding, InvalidInput, ReaccordError

SCHEMA = 1


class Unforeseen(ReaccordError):
    """A fault of ours; what was raised is its cause."""

    def __init__(self, fault: BaseException) -> None:
        super().__init__(f"A fault of ours: {type(fault).__name__}: {fault}")
        self.__cause__ = fault


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
            _say_findings((), result.warnings)
    if options.out is None:
        signals.let_go()  # nothing may follow a result that was cut short on its way
        tell(text)
    else:
        from reaccord.report.files import write_whole

        write_whole(options.out, text)
    signals.fall_silent()


def emit_error(command: str, error: ReaccordError, form: Output, quiet: bool) -> None:
    """Print a failure: as JSON on stdout where that was asked for, else as sentences on stderr."""
    if isinstance(error, Unforeseen) and error.__cause__ is not None:
        say("".join(traceback.format_exception(error.__cause__)).rstrip())
    if form == "json" and not isinstance(error, StdoutLost):
        tell(envelope(command, error.status, error.exit_code, {}, (error.errors, error.warnings)) + "\n")
        return
    _say_findings(error.errors, () if quiet else error.warnings)
    if error.exit_code == InvalidInput.exit_code:
        count = len(error.errors)
        say(f"{count} finding{'s' if count != 1 else ''}, nothing was solved.")


def _say_findings(errors: Iterable[Finding], warnings: Iterable[Finding]) -> None:
    """Print findings on stderr, one a line."""
    for finding in errors:
        say(str(finding))
    for finding in warnings:
        say(f"warning: {finding}")
