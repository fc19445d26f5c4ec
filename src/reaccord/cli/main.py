"""The `reaccord` command: parsing, exit codes, and who prints what."""

from __future__ import annotations

import os
import sys
import traceback
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import typer

from reaccord.cli import options as opt
from reaccord.cli.result import Output, emit, emit_error, envelope, say
from reaccord.findings import Finding, ReaccordError, UsageError

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
    folder: Annotated[Path, typer.Argument(help="A folder that is new or empty.", show_default=False)],
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Write a commented study to fill in."""
    from reaccord.cli import new as command

    chosen = opt.options(output, out, quiet, log)
    result = command.run(folder, chosen)
    emit(result, chosen)
    return result.exit_code


@app.command()
def check(
    study: opt.Study,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Read everything, report every finding at once, solve nothing."""
    from reaccord.cli import check as command

    chosen = opt.options(output, out, quiet, log)
    result = command.run(study, chosen)
    emit(result, chosen)
    return result.exit_code


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
    from reaccord.cli import fit as command

    result = command.run(study, limit, wanted, chosen)
    emit(result, chosen)
    return result.exit_code


@app.command()
def compare(
    study: opt.Study,
    formula: Annotated[Path, typer.Argument(help="A formula (CSV).", show_default=False)],
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Judge a given formula the same way, optimise nothing."""
    from reaccord.cli import compare as command

    chosen = opt.options(output, out, quiet, log)
    result = command.run(study, formula, chosen)
    emit(result, chosen)
    return result.exit_code


def run(arguments: Sequence[str] | None = None) -> None:
    """Run the command line and exit with its code."""
    words = list(sys.argv[1:] if arguments is None else arguments)
    for library in ("OPENBLAS", "OMP", "MKL"):
        # The arrays are small: threads would wait for each other longer than they work (measured: twice the time).
        os.environ.setdefault(f"{library}_NUM_THREADS", "1")
    sys.exit(_run(words))


def _run(words: list[str]) -> int:
    command = next((word for word in words if not word.startswith("-")), "")
    form, quiet = _form(words), "--quiet" in words
    try:
        code = app(words, prog_name="reaccord", standalone_mode=False)
    except ReaccordError as error:
        emit_error(command, error, form, quiet)
        return error.exit_code
    except (KeyboardInterrupt, typer.Abort):
        say("Interrupted.")
        return 130
    except BrokenPipeError:
        sys.stderr.close()
        return 1
    except Exception as fault:
        return _unforeseen(command, fault, form)
    return code if isinstance(code, int) else 0


def _unforeseen(command: str, fault: Exception, form: Output) -> int:
    """Tell usage errors of the parser from faults of ours."""
    if hasattr(fault, "format_message"):
        context = getattr(fault, "ctx", None)
        if form != "json" and context is not None:
            say(context.get_usage())
        message = fault.format_message()
        if not message:  # help was asked for by giving no arguments
            return 2
        emit_error(command, UsageError(message), form, quiet=False)
        return 2
    traceback.print_exc()
    message = f"A fault of ours: {type(fault).__name__}: {fault}"
    if form == "json":
        sys.stdout.write(envelope(command, "failed", 1, {}, ((Finding("error", "failed", message),), ())) + "\n")
    say(message)
    return 1


def _form(words: list[str]) -> Output:
    """Return the form that failures are printed in."""
    for number, word in enumerate(words):
        if word == "--output=json" or (word == "--output" and words[number + 1 : number + 2] == ["json"]):
            return "json"
    return "table"


if __name__ == "__main__":
    run()
