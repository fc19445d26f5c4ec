"""`reaccord cheapest`: the cheapest formula that is close enough."""

from __future__ import annotations

from pathlib import Path

from reaccord.cli.options import Limits
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.searching import Searching
from reaccord.cli.sources import inputs_of
from reaccord.questions.cheapest import Within, cheapest
from reaccord.report.cheapest import cheapest_data, cheapest_text
from reaccord.report.csvs import formula_csv
from reaccord.study.load import load_study


def run(path: Path, most: tuple[float | None, float | None], limits: Limits, options: Options) -> Result:
    """Solve; `most` is a deviation or a share above the closest."""
    study = load_study(path)
    guard_outputs(options, inputs_of(path, study))
    with Searching(study, limits, quiet=options.quiet, told="cost per kg") as searching:
        found = cheapest(study, Within(*most), searching.budget)
    data = cheapest_data(found)
    return Result(
        "cheapest",
        found.status,
        searching.code(proven=found.status == "proven"),
        data,
        lambda width: cheapest_text(found, width),
        lambda: formula_csv(data["formula"]),
        study.warnings,
    )
