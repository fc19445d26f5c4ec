"""`reaccord fit`: the closest formula."""

from __future__ import annotations

from pathlib import Path

from reaccord.cli import certificate
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
from reaccord.report.proof import written_text
from reaccord.report.terminal import fit_text


def run(path: Path, seconds: float, gap: float, options: Options, proof: Path | None = None) -> Result:
    """Solve a study and return its answer; `proof` is where the certificate goes."""
    study = load_study(path)
    inputs = inputs_of(path, study)
    guard_outputs(options, inputs)
    certificate.guard(proof, study, options, inputs)
    interrupt, progress = Interrupt(), Progress(options.quiet)
    effort = Effort(gap, seconds, lambda: interrupt.pressed, progress)
    try:
        with interrupt.catch():
            found = fit(study, effort)
            said, warnings = None, study.warnings
            if proof is not None:
                said, weaker = certificate.write_certificate(proof, found, gap, seconds, effort.stop)
                warnings = (*warnings, *weaker)
    except ReaccordError as error:
        if isinstance(error, NoAnswer) and interrupt.pressed:
            error = Interrupted("Interrupted before any formula was found.")
        error.warnings = study.warnings
        raise error from None
    finally:
        progress.done()
    data = fit_data(found) if said is None else {**fit_data(found), "certificate": said}
    exit_code = 0 if found.answer.status == "proven" else 130 if interrupt.pressed else 5
    return Result(
        "fit",
        found.answer.status,
        exit_code,
        data,
        lambda width: fit_text(found, width) + ("" if said is None else written_text(said, width)),
        lambda: formula_csv(data["formula"]),
        warnings,
    )
