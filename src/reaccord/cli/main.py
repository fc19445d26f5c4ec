"""The `reaccord` command: parsing, exit codes, and who prints what."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Callable, Sequence
from io import TextIOWrapper
from pathlib import Path
from typing import Annotated, TextIO

import typer

from reaccord.cli import options as opt
from reaccord.cli.interrupt import Interrupted
from reaccord.cli.result import Options, Output, Result, emit, emit_error, say
from reaccord.findings import InvalidInput, ReaccordError, UsageError

app = typer.Typer(
    name="reaccord",
    help="The closest accord you can really weigh from the bottles on your shelf, what it is short of, and why.",
    no_args_is_help=True,
    add_completion=False,
    pretty_exceptions_enable=False,
    rich_markup_mode=None,
    context_settings={"help_option_names": ["-h", "--help"]},
)


def _version(wanted: bool) -> None:
    if wanted:
        from reaccord import __version__

        typer.echo(f"reaccord {__version__}")
        raise typer.Exit


@app.callback()
def _root(
    version: Annotated[
        bool, typer.Option("--version", callback=_version, is_eager=True, help="Print the version.")
    ] = False,
) -> None:
    del version


@app.command()
def new(
    folder: Annotated[
        Path, typer.Argument(metavar="FOLDER", help="A folder that is new or empty.", show_default=False)
    ],
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Write a commented study to fill in."""
    chosen = opt.options(output, out, quiet, log)

    def work() -> Result:
        from reaccord.cli import new as command

        return command.run(folder, chosen)

    return _finish("new", folder, chosen, work)


@app.command()
def check(
    study: opt.Study,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Read everything, report every finding at once, solve nothing."""
    chosen = opt.options(output, out, quiet, log)

    def work() -> Result:
        from reaccord.cli import check as command

        return command.run(study, chosen)

    return _finish("check", study, chosen, work)


@app.command()
def fit(
    study: opt.Study,
    seconds: opt.Seconds = None,
    gap: opt.Gap = None,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Find the closest formula, with residuals and reasons."""
    chosen = opt.options(output, out, quiet, log)
    limit, wanted = opt.seconds_of(seconds), opt.gap_of_text(gap)

    def work() -> Result:
        from reaccord.cli import fit as command

        return command.run(study, limit, wanted, chosen)

    return _finish("fit", study, chosen, work)


@app.command()
def compare(
    study: opt.Study,
    formula: Annotated[Path, typer.Argument(metavar="FORMULA", help="A formula (CSV).", show_default=False)],
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Judge a given formula the same way, optimise nothing."""
    chosen = opt.options(output, out, quiet, log)

    def work() -> Result:
        from reaccord.cli import compare as command

        return command.run(study, formula, chosen)

    return _finish("compare", study, chosen, work)


def _finish(command: str, subject: Path, options: Options, work: Callable[[], Result]) -> int:
    """Run a command, print its result and log it; return the exit code."""
    from reaccord.cli.log import log_failure, log_result

    try:
        result = work()
    except KeyboardInterrupt:
        raise Interrupted("Interrupted.") from None
    except (UsageError, InvalidInput):
        raise  # nothing was solved, and the log may be an input of the study that could not be read
    except ReaccordError as error:
        if options.log is not None:
            log_failure(options.log, command, subject, error)
        raise
    emit(result, options)
    if options.log is not None:
        try:
            log_result(options.log, subject, result)
        except UsageError as error:  # the result is out: no second one may follow it on stdout
            say(str(error))
            return error.exit_code
    return result.exit_code


def run(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with its code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    for library in ("OPENBLAS", "OMP", "MKL"):
        # The arrays are small: threads would wait for each other longer than they work (measured: twice the time).
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    for stream in (sys.stdout, sys.stderr):
        _any_sign(stream)
    sys.exit(_run(words))


def _any_sign(stream: TextIO) -> None:
    """Let every sign through: files and pipes are UTF-8, a terminal shows ? for what it cannot show."""
    if isinstance(stream, TextIOWrapper):
        if stream.isatty():
            stream.reconfigure(errors="replace")
        else:
            stream.reconfigure(encoding="utf-8")


def _run(words: list[str]) -> int:
    command, form, quiet = _command(words), _form(words), "--quiet" in words
    try:
        code = app(words, prog_name="reaccord", standalone_mode=False)
    except ReaccordError as error:
        emit_error(command, error, form, quiet)
        return error.exit_code
    except (KeyboardInterrupt, typer.Abort):
        emit_error(command, Interrupted("Interrupted."), form, quiet)
        return Interrupted.exit_code
    except Exception as fault:
        return _unforeseen(command, fault, form)
    return code if isinstance(code, int) else 0


def _unforeseen(command: str, fault: Exception, form: Output) -> int:
    """Tell usage errors of the parser from faults of ours."""
    if hasattr(fault, "format_message"):
        message = fault.format_message()
        if not message:  # help was asked for by giving no arguments
            return UsageError.exit_code
        context = getattr(fault, "ctx", None)
        if form != "json" and context is not None:
            say(context.get_usage())
        emit_error(command, UsageError(message), form, quiet=False)
        return UsageError.exit_code
    say("".join(traceback.format_exception(fault)).rstrip())
    emit_error(command, ReaccordError(f"A fault of ours: {type(fault).__name__}: {fault}"), form, quiet=False)
    return ReaccordError.exit_code


def _command(words: list[str]) -> str:
    """Return which command was meant, for the JSON of a failure."""
    known = {str(item.callback.__name__) for item in app.registered_commands if item.callback is not None}
    plain = [word for word in words if not word.startswith("-")]
    return next((word for word in plain if word in known), plain[0] if plain else "")


def _form(words: list[str]) -> Output:
    """Return the form that failures are printed in."""
    for number, word in enumerate(words):
        if word == "--output=json" or (word == "--output" and words[number + 1 : number + 2] == ["json"]):
            return "json"
    return "table"


if __name__ == "__main__":
    run()
