"""Runs what the words ask for: prints the result or the failure, keeps the log, returns the exit code."""

from __future__ import annotations

import os
import sys
from contextlib import suppress
from dataclasses import replace

import typer

from reaccord.cli import signals
from reaccord.cli.app import COMMANDS, app_for
from reaccord.cli.command import Call
from reaccord.cli.log import log_failure, log_result, need_log
from reaccord.cli.options import Output
from reaccord.cli.result import Result, Unforeseen, emit, emit_error
from reaccord.cli.searching import CUT_SHORT, Interrupted
from reaccord.cli.streams import StdoutLost, any_sign, drop, say, tell
from reaccord.findings import Finding, ReaccordError, UsageError

BEST = "Interrupted: this is the best that was found until then, and not proven."


def run_words(words: list[str]) -> int:
    """Run a command line; return the exit code.

    Raises
    ------
    KeyboardInterrupt
        If it was interrupted before a command began.
    """
    for library in ("OPENBLAS", "OMP", "MKL"):
        # The arrays are small: threads would wait for each other longer than they work (measured: twice the time).
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    any_sign()
    try:
        call = _call(words)
        return _run_call(call) if isinstance(call, Call) else call
    except ReaccordError as error:
        return _fail(words, error, quiet="--quiet" in words)
    except Exception as fault:
        return _fail(words, Unforeseen(fault), quiet=False)


def say_interrupted(words: list[str]) -> int:
    """Say that a run ended before a command began; return the exit code."""
    return _fail(words, Interrupted("Interrupted."), quiet=False)


def form_of(words: list[str]) -> Output:
    """Return the form that failures are printed in."""
    for number, word in enumerate(words):
        if word == "--output=json" or (word == "--output" and words[number + 1 : number + 2] == ["json"]):
            return "json"
    return "table"


def command_of(words: list[str]) -> str:
    """Return which command was meant, for the JSON of a failure."""
    plain = [word for word in words if not word.startswith("-")]
    return next((word for word in plain if word in COMMANDS), plain[0] if plain else "")


def _call(words: list[str]) -> Call | int:
    """Parse; return the command called, or the exit code where only help or the version was asked for."""
    try:
        parsed = app_for(words)(words, prog_name="reaccord", standalone_mode=False)
    except typer.Abort:
        raise KeyboardInterrupt from None
    except SystemExit:  # a shell was told how a word goes on, or help went to a reader who has gone away
        drop(sys.__stdout__)
        return 0
    except OSError as fault:
        drop(sys.__stdout__)
        raise StdoutLost(f"cannot write to stdout: {fault.strerror or fault}.") from None
    except Exception as fault:
        return _refuse(fault, words)
    if isinstance(parsed, Call):
        return parsed
    if parsed == Interrupted.exit_code:
        raise KeyboardInterrupt
    tell("")  # help, printed by the parser: it does not mind a closed stdout
    return 0


def _refuse(fault: Exception, words: list[str]) -> int:
    """Tell usage errors of the parser from faults of ours; no words at all ask for help and do nothing."""
    if not hasattr(fault, "format_message"):
        raise Unforeseen(fault)
    message = fault.format_message()
    if not message:  # click before 8.2 has shown the help already
        return UsageError.exit_code
    context = getattr(fault, "ctx", None)
    if form_of(words) != "json" and context is not None and context.get_usage() not in message:
        say(context.get_usage())
    raise UsageError(message)


def _run_call(call: Call) -> int:
    """Run a command, print its result, note it in the log, whatever it is."""
    log = call.shared["options"]["log"]
    if log is not None:
        need_log(log, call.shared["options"]["out"])
    try:
        options = call.options()
        options.guard()
        result = _told(call.run(options))
        signals.heed()
        emit(call.command, result, options, call.subject, call.formulas)
    except BaseException as fault:
        error = _known(fault)
        error.study = call.subject
        if log is not None:
            with suppress(UsageError):  # what went wrong first is what to say
                log_failure(log, call.command, call.subject, error, call.shared["options"]["note"] or "")
        raise error from error.__cause__
    if log is not None:
        try:
            log_result(log, call.command, call.subject, result, options.note)
        except UsageError as unwritten:  # the result is out: no second one may follow it on stdout
            say(str(unwritten))
            return unwritten.exit_code
    return result.exit_code


def _told(result: Result) -> Result:
    """Let a result that was interrupted say so."""
    if result.exit_code != Interrupted.exit_code or any(said.code == CUT_SHORT for said in result.warnings):
        return result
    return replace(result, warnings=(Finding("warning", CUT_SHORT, BEST), *result.warnings))


def _known(fault: BaseException) -> ReaccordError:
    if isinstance(fault, ReaccordError):
        return fault
    if isinstance(fault, KeyboardInterrupt) or signals.heard():
        return Interrupted("Interrupted.")
    return Unforeseen(fault)


def _fail(words: list[str], error: ReaccordError, quiet: bool) -> int:
    """Print a failure; return the exit code."""
    signals.let_go()
    try:
        emit_error(command_of(words), error, form_of(words), quiet)
    except StdoutLost as lost:
        say(str(lost))
        return lost.exit_code
    return error.exit_code
