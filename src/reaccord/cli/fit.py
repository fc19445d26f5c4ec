"""`reaccord fit`: the closest formula."""

from __future__ import annotations

from pathlib import Path

from reaccord.answer.fit import fit
from reaccord.cli import certificate
from reaccord.cli.options import Limits
from reaccord.cli.result import Options, Result, guard_outputs
from reaccord.cli.searching import Searching
from reaccord.cli.sources import inputs_of
from reaccord.report.csvs import formula_csv
from reaccord.report.data import fit_data
from reaccord.report.proof import written_text
from reaccord.report.terminal import fit_text
from reaccord.study.load import load_study


def run(path: Path, limits: Limits, options: Options, proof: Path | None = None) -> Result:
    """Solve a study and return its answer; `proof` is where the certificate goes."""
    study = load_study(path)
    inputs = inputs_of(path, study)
    guard_outputs(options, inputs)
    certificate.guard(proof, study, options, inputs)
    said, warnings = None, study.warnings
    with Searching(study, limits, quiet=options.quiet) as searching:
        found = fit(study, searching.budget)
        if proof is not None:
            said, weaker = certificate.write_certificate(proof, found, searching.budget)
            warnings = (*warnings, *weaker)
    data = fit_data(found) if said is None else {**fit_data(found), "certificate": said}
    return Result(
        "fit",
        found.answer.status,
        searching.code(proven=found.answer.status == "proven"),
        data,
        lambda width: fit_text(found, width) + ("" if said is None else written_text(said, width)),
        lambda: formula_csv(data["formula"]),
        warnings,
    )
