"""The certificate that `fit` writes beside its answer."""

from __future__ import annotations

from dataclasses import replace
from pathlib import Path
from typing import Any

from reaccord.answer.fit import Fit
from reaccord.cli.result import Options, guard_outputs
from reaccord.contract import Budget
from reaccord.domain.study import Study
from reaccord.findings import Finding, UsageError
from reaccord.report.files import same_file, write_whole

ALMOST = 1e-6
"""Relative; a gap missed by no more than this is not worth a word."""


def guard(path: Path | None, study: Study, options: Options, inputs: list[Path]) -> None:
    """Say before the search that a certificate cannot be made or written."""
    if path is None:
        return
    if study.settings.fit.measure != "squares":
        raise UsageError(
            f"--certificate proves sums of squares; the measure of this study is {study.settings.fit.measure}."
        )
    guard_outputs(replace(options, out=path, own=None, log=None), inputs)
    for name, other in (("--out", options.out), ("--log", options.log)):
        if same_file(other, path):
            raise UsageError(f"--certificate and {name} name the same file.")


def write_certificate(path: Path, found: Fit, budget: Budget) -> tuple[dict[str, Any], tuple[Finding, ...]]:
    """Write the certificate of a fit; return what it claims, and a warning if that is less than was asked for.

    The proof may take as many seconds as the search might; the end of the budget leaves what is proven by then.
    """
    from reaccord.certificate.format import write
    from reaccord.certificate.write import certify
    from reaccord.programme import state

    assert found.answer.amounts is not None
    wanted = max(budget.gap, found.gap * (1 + ALMOST))
    certificate = certify(found.study, state(found.study), found.answer.amounts, wanted, budget.running().over)
    write_whole(path, write(certificate))
    claim = certificate.claim
    said = {"file": str(path), "bound": float(claim.bound), "gap": float(claim.gap)}
    if float(claim.gap) <= wanted * (1 + ALMOST) + 2e-9:
        return said, ()
    text = f"the certificate proves a gap of {float(claim.gap):.2%} only, the search {found.gap:.2%}."
    return said, (Finding("warning", "certificate-weaker", text),)
