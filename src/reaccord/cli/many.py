"""`reaccord many`: many studies, a line of JSON each, taken up again where a run ended."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from contextlib import ExitStack
from pathlib import Path
from typing import Any

from reaccord.cli.interrupt import CUT_SHORT, Interrupt
from reaccord.cli.options import Limits
from reaccord.cli.progress import Told, bar
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.streams import say
from reaccord.contract import Budget
from reaccord.findings import Finding, Place, ReaccordError
from reaccord.questions.many.run import EACH, Outcome, run_many
from reaccord.questions.processes import cluster
from reaccord.report.many import Row, counts, many_csv, many_text, row_of

STATUS_OF_STOPPED = "no_answer"


def run(
    studies: Sequence[Path], limits: Limits, options: Options, *, each_sample: bool, scheduler: str | None
) -> Result:
    """Solve many studies and return the table; the lines go to `--out` as they come."""
    guard_outputs(options, studies)
    interrupt = Interrupt()
    budget = Budget(limits.gap, limits.seconds, lambda: interrupt.pressed)
    rows: list[Row] = []
    twice: list[Finding] = []
    lines: list[tuple[int, dict[str, Any]]] = []
    with ExitStack() as stack:
        stack.enter_context(interrupt.catch())
        where = _where(stack, scheduler, options.quiet)
        outcomes = run_many(studies, out=options.own, each_sample=each_sample, budget=budget, **where)
        stack.callback(outcomes.close)
        told = stack.enter_context(bar(options.quiet, "studies"))
        for outcome in _watched(outcomes, interrupt, None if each_sample else len(studies), told):
            if outcome.line is None:
                twice.append(Finding("warning", "named-twice", "named before; solved once.", Place(outcome.again)))
                continue
            rows.append(row_of(outcome.number, outcome.line, outcome.taken_over))
            if options.form == "json":
                lines.append((outcome.number, outcome.line))
    rows.sort(key=lambda row: row.number)
    lines.sort(key=lambda line: line[0])
    stopped = interrupt.pressed and (each_sample or len(rows) + len(twice) < len(studies))
    return _result(rows, [line for _, line in lines], tuple(twice), stopped, options.own)


def _result(
    rows: list[Row], lines: list[dict[str, Any]], twice: tuple[Finding, ...], stopped: bool, out: Path | None
) -> Result:
    """Return the table; its code is the highest of its lines' codes, 130 if it is not complete."""
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
    return Result(
        "many",
        status,
        code,
        data,
        lambda width: many_text(rows, width, notes),
        lambda: many_csv(rows),
        (*said, *twice),
    )


def _resume(out: Path | None) -> str:
    if out is None:
        return "Interrupted before all were done. With --out FILE a run can be taken up again."
    return f"Interrupted before all were done. The same command goes on from what {out} holds."


def _where(stack: ExitStack, scheduler: str | None, quiet: bool) -> dict[str, Any]:
    """Return where studies are solved, as `run_many` takes it: by default it makes processes of its own."""
    if scheduler is None:
        return {}
    executor, threads = stack.enter_context(cluster(scheduler))
    if not threads and not quiet:
        say(f"The cluster at {scheduler} has no workers yet; waiting for some.")
    return {"executor": executor, "in_flight": EACH * max(threads, 1)}


def _watched(
    outcomes: Iterator[Outcome], interrupt: Interrupt, total: int | None, told: Told | None
) -> Iterator[Outcome]:
    """Yield the outcomes, telling how many there are; those that are there stand when a stopped pool breaks."""
    try:
        for done, outcome in enumerate(outcomes, start=1):
            yield outcome
            if told is not None:
                told(done, total)
    except ReaccordError:
        if not interrupt.pressed:
            raise
