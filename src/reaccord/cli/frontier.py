"""`reaccord frontier`: closeness against cost, lines, carrier or a restricted substance."""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import replace
from pathlib import Path

from reaccord.cli.interrupt import Interrupt, Interrupted
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.sources import inputs_of
from reaccord.contract import Effort
from reaccord.findings import NoAnswer, ReaccordError
from reaccord.load import load_study
from reaccord.report.files import write_whole
from reaccord.report.frontier import frontier_csv, frontier_data, frontier_text
from reaccord.report.picture import frontier_picture, need_library
from reaccord.studies.frontier import Told, frontier

MOST_WORKERS = 8
"""A round of points is rarely wider."""


def run(path: Path, against: str, limits: tuple[float, float], options: Options, picture: Path | None = None) -> Result:
    """Draw a curve; `limits` are seconds and gap. A picture is written here, the table is printed as ever."""
    if picture is not None:
        need_library()
    study = load_study(path)
    guard_outputs(replace(options, out=picture or options.out), inputs_of(path, study))
    interrupt = Interrupt()
    effort = Effort(limits[1], limits[0], lambda: interrupt.pressed)
    try:
        with interrupt.catch(), _bar(options.quiet) as told:
            found = frontier(study, against, effort, min(os.cpu_count() or 1, MOST_WORKERS), told)
    except ReaccordError as error:
        if isinstance(error, NoAnswer) and interrupt.pressed:
            error = Interrupted("Interrupted before any formula was found.")
        error.warnings = (*error.warnings, *(w for w in study.warnings if w not in error.warnings))
        raise error from None
    if picture is not None:
        write_whole(picture, frontier_picture(found, picture.suffix.lower().removeprefix(".")))
    exit_code = 0 if found.status == "proven" else 130 if interrupt.pressed else 5
    return Result(
        "frontier",
        found.status,
        exit_code,
        frontier_data(found),
        lambda width: frontier_text(found, width),
        lambda: frontier_csv(found),
        study.warnings,
    )


@contextmanager
def _bar(quiet: bool) -> Iterator[Told | None]:
    """Show a bar on stderr, for people only: points done of those known to come."""
    if quiet or not sys.stderr.isatty():
        yield None
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn, TimeElapsedColumn

    columns = (TextColumn("points"), BarColumn(), MofNCompleteColumn(), TimeElapsedColumn())
    with Progress(*columns, console=Console(stderr=True), transient=True) as progress:
        task = progress.add_task("points", total=None)
        yield lambda done, total: progress.update(task, completed=done, total=total)
