"""`reaccord many`: many studies, a line of JSON each, taken up again where a run ended."""

from __future__ import annotations

import sys
from collections.abc import Callable, Iterator, Sequence
from contextlib import ExitStack, contextmanager
from dataclasses import dataclass, replace
from pathlib import Path
from typing import Any

from reaccord.cli.interrupt import Interrupt
from reaccord.cli.result import Options, Result, guard_outputs, say
from reaccord.contract import Effort
from reaccord.findings import Finding, Place, UsageError
from reaccord.report.files import refuse_inputs
from reaccord.report.many import Row, counts, many_csv, many_text, row_of
from reaccord.studies.many import EACH, Outcome, run_many
from reaccord.studies.pools import cluster

STATUS_OF_STOPPED = "no_answer"


@dataclass(frozen=True)
class Wish:
    """What `many` is asked for: its own options."""

    studies: Sequence[Path]
    each_sample: bool
    scheduler: str | None
    effort: Effort


def run(wish: Wish, options: Options, out: Path | None) -> Result:
    """Solve many studies and return the table; the lines go to `out` as they come."""
    _guard(wish.studies, replace(options, out=out))
    interrupt = Interrupt()
    wish = replace(wish, effort=replace(wish.effort, stop=lambda: interrupt.pressed))
    rows: list[Row] = []
    twice: list[Finding] = []
    lines: list[tuple[int, dict[str, Any]]] = []
    with interrupt.catch(), _outcomes(wish, out, options.quiet) as outcomes:
        for outcome in outcomes:
            if outcome.line is None:
                twice.append(Finding("warning", "named-twice", "named before; solved once.", Place(outcome.again)))
                continue
            if options.log is not None:
                folder = Path(outcome.line["study"]).parent
                refuse_inputs(options.log, [folder / item["file"] for item in outcome.line["inputs"]])
            rows.append(row_of(outcome.number, outcome.line, outcome.taken_over))
            if options.form == "json":
                lines.append((outcome.number, outcome.line))
    rows.sort(key=lambda row: row.number)
    lines.sort(key=lambda line: line[0])
    stopped = interrupt.pressed and (wish.each_sample or len(rows) + len(twice) < len(wish.studies))
    return _result(rows, [line for _, line in lines], tuple(twice), stopped, out)


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
    return Result(
        "many",
        status,
        code,
        data,
        lambda width: many_text(rows, width, notes),
        lambda: many_csv(rows),
        twice,
    )


def _resume(out: Path | None) -> str:
    if out is None:
        return "Interrupted before all were done. With --out FILE a run can be taken up again."
    return f"Interrupted before all were done. The same command goes on from what {out} holds."


@contextmanager
def _outcomes(wish: Wish, out: Path | None, quiet: bool) -> Iterator[Iterator[Outcome]]:
    """Start the run where it was asked for, with progress on a terminal; let everything go at the end."""
    with ExitStack() as stack:
        executor, in_flight = None, None
        if wish.scheduler is not None:
            executor, threads = stack.enter_context(cluster(wish.scheduler))
            in_flight = EACH * max(threads, 1)
            if not threads and not quiet:
                say(f"The cluster at {wish.scheduler} has no workers yet; waiting for some.")
        outcomes = run_many(
            wish.studies,
            executor,
            out=out,
            each_sample=wish.each_sample,
            effort=wish.effort,
            in_flight=in_flight,
        )
        stack.callback(outcomes.close)
        tick = stack.enter_context(_bar(None if wish.each_sample else len(wish.studies), quiet))
        yield _ticking(outcomes, tick)


def _ticking(outcomes: Iterator[Outcome], tick: Callable[[], None]) -> Iterator[Outcome]:
    for outcome in outcomes:
        yield outcome
        tick()


@contextmanager
def _bar(total: int | None, quiet: bool) -> Iterator[Callable[[], None]]:
    """Show how far it is, on a terminal only; give what to call after each result."""
    if quiet or not sys.stderr.isatty():
        yield lambda: None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TimeElapsedColumn, TimeRemainingColumn

    columns = (BarColumn(), MofNCompleteColumn(), TimeElapsedColumn(), TimeRemainingColumn())
    with Progress(*columns, console=Console(file=sys.stderr), transient=True) as progress:
        task = progress.add_task("", total=total)
        yield lambda: progress.advance(task)


def _guard(studies: Sequence[Path], options: Options) -> None:
    if options.out is not None and options.out.suffix.lower() == ".csv":
        raise UsageError("--out holds JSON lines here: name it results.jsonl. `--output csv` prints the table.")
    guard_outputs(options, studies)
