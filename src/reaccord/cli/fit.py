"""`reaccord fit`: the closest formula."""

from __future__ import annotations

from pathlib import Path

from reaccord.cli.interrupt import Interrupt, Interrupted
from reaccord.cli.progress import Progress
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.sources import inputs_of
from reaccord.contract import Effort
from reaccord.findings import NoAnswer, ReaccordError
from reaccord.fit import fit
from reaccord.load import load_study
from reaccord.report.csvs import formula_csv
from reaccord.report.data import fit_data
from reaccord.report.terminal import fit_text


def run(path: Path, seconds: float, gap: float, options: Options) -> Result:
    """Solve a study and return its answer."""
    study = load_study(path)
    guard_outputs(options, inputs_of(path, study))
    interrupt, progress = Interrupt(), Progress(options.quiet)
    effort = Effort(gap, seconds, lambda: interrupt.pressed, progress)
    try:
        with interrupt.catch():
            found = fit(study, effort)
    except ReaccordError as error:
        if isinstance(error, NoAnswer) and interrupt.pressed:
            error = Interrupted("Interrupted before any formula was found.")
        error.warnings = study.warnings
        raise error from None
    finally:
        progress.done()
    data = fit_data(found)
    exit_code = 0 if found.answer.status == "proven" else 130 if interrupt.pressed else 5
    return Result(
        "fit",
        found.answer.status,
        exit_code,
        data,
        lambda width: fit_text(found, width),
        lambda: formula_csv(data["formula"]),
        study.warnings,
    )
