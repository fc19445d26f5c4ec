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
    certificate: Annotated[
        Path | None,
        typer.Option("--certificate", metavar="FILE", help="Also write a proof that anyone can check."),
    ] = None,
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

        return command.run(study, limit, wanted, chosen, certificate)

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


@app.command()
def many(
    studies: opt.Studies,
    each_sample: Annotated[
        bool, typer.Option("--each-sample", help="Solve each study once for each sample column of its target table.")
    ] = False,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Solve on the workers of this Dask scheduler."),
    ] = None,
    seconds: opt.Seconds = None,
    gap: opt.Gap = None,
    output: opt.OutputForm = None,
    out: opt.Lines = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Solve many studies; what is done already is not done again."""
    chosen = opt.options(output, None, quiet, log)
    limit, wanted = opt.seconds_of(seconds), opt.gap_of_text(gap)

    def work() -> Result:
        from reaccord.cli import many as command
        from reaccord.contract import Effort

        return command.run(command.Wish(studies, each_sample, scheduler, Effort(wanted, limit)), chosen, out)

    subject = studies[0] if len(studies) == 1 else Path(f"{len(studies)} studies")
    return _finish("many", subject, chosen, work)


@app.command()
def overdose(
    study: opt.Study,
    of: Annotated[
        str,
        typer.Option("--of", metavar="NAME,...", help="Constituents or rows of the target.", show_default=False),
    ],
    times: Annotated[
        str, typer.Option("--times", metavar="1,2,4,8", help="Multiples of the share it has.", show_default=False)
    ],
    mode: Annotated[
        str, typer.Option("--mode", metavar="spike|refit", help="Weigh a spike into one base, or solve again.")
    ] = "spike",
    vial_g: Annotated[
        str | None,
        typer.Option("--vial-g", metavar="N", help="Gram of base in each vial; default one batch shared among them."),
    ] = None,
    formula: opt.Formula = None,
    seconds: opt.Seconds = None,
    gap: opt.Gap = None,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Make a series with a minor constituent at given multiples."""
    chosen = opt.options(output, out, quiet, log)
    limit, wanted = opt.seconds_of(seconds), opt.gap_of_text(gap)

    def work() -> Result:
        from reaccord.cli import overdose as command

        grams = command.grams_of_text(vial_g)
        return command.run(study, command.Wish(of, times, mode, grams, formula, limit, wanted), chosen)

    return _finish("overdose", study, chosen, work)


@app.command()
def spread(
    study: opt.Study,
    draws: Annotated[int, typer.Option("--draws", metavar="N", min=1, help="How many compositions to draw.")] = 10_000,
    seed: Annotated[int, typer.Option("--seed", metavar="N", min=0, help="The same seed, the same draws.")] = 1,
    robust: Annotated[
        bool, typer.Option("--robust", help="Also find the formula that is best for the whole spread.")
    ] = False,
    hold: Annotated[
        str | None,
        typer.Option(
            "--hold", metavar="SHARE|all", help="Draws in which its restricted limits must hold; default all."
        ),
    ] = None,
    formula: opt.Formula = None,
    seconds: opt.Seconds = None,
    gap: opt.Gap = None,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Say how the result moves with natural variation."""
    chosen = opt.options(output, out, quiet, log)
    limit, wanted = opt.seconds_of(seconds), opt.gap_of_text(gap)

    def work() -> Result:
        from reaccord.cli import spread as command

        held = command.hold_of(hold, robust)
        return command.run(study, command.Wish(draws, seed, robust, held, formula, limit, wanted), chosen)

    return _finish("spread", study, chosen, work)


@app.command()
def cheapest(
    study: opt.Study,
    within: Annotated[
        str,
        typer.Option(
            "--within",
            metavar="X",
            help="The deviation allowed: a value, or '5 %' above the closest formula's.",
            show_default=False,
        ),
    ],
    seconds: opt.Seconds = None,
    gap: opt.Gap = None,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Find the cheapest formula that is close enough."""
    chosen = opt.options(output, out, quiet, log)
    limit, wanted, most = opt.seconds_of(seconds), opt.gap_of_text(gap), opt.within_of(within)

    def work() -> Result:
        from reaccord.cli import cheapest as command

        return command.run(study, most, (limit, wanted), chosen)

    return _finish("cheapest", study, chosen, work)


@app.command()
def frontier(
    study: opt.Study,
    against: Annotated[
        str,
        typer.Option("--against", metavar="NAME", help="cost, lines, carrier, or a limit on restricted substances."),
    ] = "cost",
    seconds: opt.Seconds = None,
    gap: opt.Gap = None,
    output: opt.OutputForm = None,
    out: Annotated[
        Path | None,
        typer.Option("--out", metavar="FILE", help="Write to a file: .json, .csv, or a picture (.svg, .png)."),
    ] = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Draw closeness against cost, lines, carrier or a restricted substance."""
    picture = out if out is not None and out.suffix.lower() in opt.PICTURES else None
    chosen = opt.options(output, None if picture else out, quiet, log)
    limit, wanted = opt.seconds_of(seconds), opt.gap_of_text(gap)

    def work() -> Result:
        from reaccord.cli import frontier as command

        return command.run(study, against, (limit, wanted), chosen, picture)

    return _finish("frontier", study, chosen, work)


@app.command("verify-certificate")
def verify_certificate(
    file: Annotated[Path, typer.Argument(metavar="FILE", help="A certificate that fit wrote.", show_default=False)],
    study: Annotated[
        Path | None,
        typer.Option("--study", metavar="STUDY", help="Check that the programme in it is this study's, too."),
    ] = None,
    output: opt.OutputForm = None,
    out: opt.Out = None,
    quiet: opt.Quiet = False,
    log: opt.Log = None,
) -> int:
    """Check a proof in exact arithmetic, by its own numbers alone."""
    chosen = opt.options(output, out, quiet, log)

    def work() -> Result:
        from reaccord.cli import verify_certificate as command

        return command.run(file, study, chosen)

    return _finish("verify-certificate", file, chosen, work)


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
    known = {str(c.name or c.callback.__name__) for c in app.registered_commands if c.callback is not None}
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
