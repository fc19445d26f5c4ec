"""`reaccord many`: many studies, a line of JSON each, taken up again where a run ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from reaccord.cli import options as opt
from reaccord.cli.command import command
from reaccord.cli.progress import Told, bar
from reaccord.cli.result import Result
from reaccord.cli.searching import CUT_SHORT, Interrupt
from reaccord.cli.streams import say
from reaccord.findings import Finding, Place, ReaccordError

if TYPE_CHECKING:
    from reaccord.questions.many.run import StudyResult
    from reaccord.report.many import ResultRow

STATUS_OF_STOPPED = "no_answer"


@command(out=opt.LINES)
def many(
    studies: opt.Studies,
    each_sample: Annotated[
        bool, typer.Option("--each-sample", help="Solve each study once for each sample column of its target table.")
    ] = False,
    scheduler: Annotated[
        str | None,
        typer.Option("--scheduler", metavar="ADDRESS", help="Solve on the workers of this Dask scheduler."),
    ] = None,
    *,
    limits: opt.Limits,
    options: opt.Options,
) -> Result:
    """Solve many studies; what is done already is not done again."""
    from reaccord.contract import Budget
    from reaccord.questions.many.run import run_many
    from reaccord.study.load import study_file

    files = [study_file(path) for path in studies]
    options.guard(files)
    interrupt = Interrupt()
    budget = Budget(limits.gap, limits.seconds, lambda: interrupt.pressed)
    with ExitStack() as stack:
        stack.enter_context(interrupt.catch())
        where = _where(stack, scheduler, options.quiet)
        outcomes = run_many(files, out=options.own, each_sample=each_sample, budget=budget, **where)
        stack.callback(outcomes.close)
        told = stack.enter_context(bar(options.quiet, "studies"))
        watched = _watched(outcomes, interrupt, None if each_sample else len(files), told)
        rows, lines, twice = _sorted(watched, keep=options.form == "json")
    stopped = interrupt.pressed and (each_sample or len(rows) + len(twice) < len(files))
    return _result(rows, lines, tuple(twice), stopped, options.own)


def _sorted(outcomes: Iterator[StudyResult], keep: bool) -> tuple[list[ResultRow], list[dict[str, Any]], list[Finding]]:
    """Return rows and lines (none unless `keep`: thousands are heavy) as asked for, and what was named twice."""
    from reaccord.report.many import row_of

    rows: list[ResultRow] = []
    lines: list[tuple[int, dict[str, Any]]] = []
    twice: list[Finding] = []
    for outcome in outcomes:
        if outcome.line is None:
            twice.append(Finding("warning", "named-twice", "named before; solved once.", Place(outcome.again)))
            continue
        rows.append(row_of(outcome.number, outcome.line, outcome.taken_over))
        if keep:
            lines.append((outcome.number, outcome.line))
    rows.sort(key=lambda row: row.number)
    lines.sort(key=lambda line: line[0])
    return rows, [line for _, line in lines], twice


def _result(
    rows: Sequence[ResultRow], lines: list[dict[str, Any]], twice: tuple[Finding, ...], stopped: bool, out: Path | None
) -> Result:
    """Return the table; its code is the highest of its lines' codes, 130 if it is not complete."""
    from reaccord.report.many import counts, many_csv, many_text

    worst = max(rows, key=lambda row: row.exit_code, default=None)
    code = 130 if stopped else worst.exit_code if worst else 0
    status = STATUS_OF_STOPPED if stopped or worst is None else worst.status
    data = {
        "complete": not stopped,
        "counts": counts(rows),
        "taken_over": sum(row.taken_over for row in rows),
        "results": lines,
    }
    notes = [_resume(out)] if stopped else []
    said = tuple(Finding("warning", CUT_SHORT, note) for note in notes)
    warnings = (*said, *twice)
    return Result(data, lambda width: many_text(rows, width, notes), lambda: many_csv(rows), status, code, warnings)


def _resume(out: Path | None) -> str:
    if out is None:
        return "Interrupted before all were done. With --out FILE a run can be taken up again."
    return f"Interrupted before all were done. The same command goes on from what {out} holds."


def _where(stack: ExitStack, scheduler: str | None, quiet: bool) -> dict[str, Any]:
    """Return where studies are solved, as `run_many` takes it: by default it makes processes of its own."""
    if scheduler is None:
        return {}
    from reaccord.questions.many.run import EACH
    from reaccord.questions.processes import cluster

    executor, threads = stack.enter_context(cluster(scheduler))
    if not threads and not quiet:
        say(f"The cluster at {scheduler} has no workers yet; waiting for some.")
    return {"executor": executor, "in_flight": EACH * max(threads, 1)}


def _watched(
    outcomes: Iterator[StudyResult], interrupt: Interrupt, total: int | None, told: Told | None
) -> Iterator[StudyResult]:
    """Yield the outcomes, telling how many there are; those that are there stand when a stopped pool breaks."""
    try:
        for done, outcome in enumerate(outcomes, start=1):
            yield outcome
            if told is not None:
                told(done, total)
    except ReaccordError:
        if not interrupt.pressed:
            raise
