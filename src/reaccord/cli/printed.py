"""The one place that prints: a result or a failure, for people or for scripts."""

from __future__ import annotations

import json
import traceback
from collections.abc import Iterable, Mapping
from typing import Any

from reaccord.cli import signals
from reaccord.cli.result import Options, Output, Result
from reaccord.cli.streams import StdoutLost, say, tell, width
from reaccord.findings import Finding, InvalidInput, ReaccordError, UsageError

SCHEMA = 2


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


def emit(result: Result, options: Options) -> None:
    """Print a result on stdout, or write it to the output file; warnings go to stderr.

    Raises
    ------
    Unwritten
        If the file cannot be written; the result is on stdout then, its JSON with the error.
    """
    text = _text(result, options)
    if options.form != "json" and not options.quiet:
        _say_findings((), result.warnings)
    if options.out is None:
        signals.let_go()  # nothing may follow a result that was cut short on its way
        tell(text)
    else:
        from reaccord.report.files import write_whole

        try:
            write_whole(options.out, text)
        except UsageError as fault:
            lost = Unwritten(fault)
            signals.let_go()
            tell(_text(result, options, lost))
            raise lost from None
    signals.fall_silent()


def _text(result: Result, options: Options, lost: Unwritten | None = None) -> str:
    """Return a result in the form asked for; JSON bears that it could not be written, if so."""
    if options.form == "csv":
        return result.csv()
    if options.form == "table":
        return result.text(width())
    status, code = (result.status, result.exit_code) if lost is None else (lost.status, lost.exit_code)
    errors = () if lost is None else lost.errors
    return envelope(result.command, status, code, result.data, (errors, result.warnings)) + "\n"


def emit_error(command: str, error: ReaccordError, form: Output, quiet: bool) -> None:
    """Print a failure: as JSON on stdout where that was asked for, else as sentences on stderr."""
    if isinstance(error, Unforeseen) and error.__cause__ is not None:
        say("".join(traceback.format_exception(error.__cause__)).rstrip())
    if form == "json" and not isinstance(error, StdoutLost | Unwritten):
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
