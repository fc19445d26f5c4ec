"""`reaccord frontier`: closeness against cost, lines, carrier or a restricted substance."""

from __future__ import annotations

from pathlib import Path

from reaccord.cli.options import Limits
from reaccord.cli.progress import bar
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.searching import Searching
from reaccord.cli.sources import inputs_of
from reaccord.questions.frontier import frontier
from reaccord.questions.processes import usable_processors
from reaccord.report.files import write_whole
from reaccord.report.frontier import frontier_csv, frontier_data, frontier_text
from reaccord.report.picture import frontier_picture, need_library
from reaccord.study.load import load_study

MOST_WORKERS = 8
"""A round of points is rarely wider."""


def run(path: Path, against: str, limits: Limits, options: Options) -> Result:
    """Draw a curve; a picture is written here, the table is printed as ever."""
    picture = options.own
    if picture is not None:
        need_library()
    study = load_study(path)
    guard_outputs(options, inputs_of(path, study))
    with Searching(study, limits, quiet=True) as searching, bar(options.quiet, "points") as told:
        found = frontier(study, against, searching.budget, min(usable_processors(), MOST_WORKERS), told)
    if picture is not None:
        write_whole(picture, frontier_picture(found, picture.suffix.lower().removeprefix(".")))
    return Result(
        "frontier",
        found.status,
        searching.code(proven=found.status == "proven"),
        frontier_data(found),
        lambda width: frontier_text(found, width),
        lambda: frontier_csv(found),
        study.warnings,
    )
