"""`reaccord cheapest`: the cheapest formula that is close enough."""

from __future__ import annotations

from pathlib import Path

from reaccord.cli.interrupt import Interrupt, Interrupted
from reaccord.cli.progress import Progress
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.sources import inputs_of
from reaccord.contract import Effort
from reaccord.findings import NoAnswer, ReaccordError
from reaccord.load import load_study
from reaccord.report.cheapest import cheapest_data, cheapest_text
from reaccord.report.csvs import formula_csv
from reaccord.studies.cheapest import Within, cheapest


def run(path: Path, most: tuple[float | None, float | None], limits: tuple[float, float], options: Options) -> Result:
    """Solve; `most` is a deviation or a share above the closest, `limits` are seconds and gap."""
    study = load_study(path)
    guard_outputs(options, inputs_of(path, study))
    interrupt, progress = Interrupt(), Progress(options.quiet, "cost per kg")
    effort = Effort(limits[1], limits[0], lambda: interrupt.pressed, progress)
    try:
        with interrupt.catch():
            found = cheapest(study, Within(*most), effort)
    except ReaccordError as error:
        if isinstance(error, NoAnswer) and interrupt.pressed:
            error = Interrupted("Interrupted before any formula was found.")
        error.warnings = study.warnings
        raise error from None
    finally:
        progress.done()
    data = cheapest_data(found)
    exit_code = 0 if found.status == "proven" else 130 if interrupt.pressed else 5
    return Result(
        "cheapest",
        found.status,
        exit_code,
        data,
        lambda width: cheapest_text(found, width),
        lambda: formula_csv(data["formula"]),
        study.warnings,
    )
