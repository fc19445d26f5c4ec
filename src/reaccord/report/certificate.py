"""The certificate that `fit` writes beside its answer, and what a certificate proves."""

from __future__ import annotations

from collections.abc import Mapping
from pathlib import Path
from typing import TYPE_CHECKING, Any

from reaccord.certificate.format import Certificate
from reaccord.certificate.verify import Verdict
from reaccord.findings import Finding
from reaccord.report.csv_table import csv_text
from reaccord.report.files import write_whole
from reaccord.report.layout import Column, aligned, counted, paragraph, paragraphs
from reaccord.report.quantities import exact_percent

if TYPE_CHECKING:
    from reaccord.answer.fitted import Fit
    from reaccord.contract import Budget

ALMOST = 1e-6
"""Relative; a gap missed by no more than this is not worth a word."""


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


def verdict_data(
    certificate: Certificate, verdict: Verdict, origin: str | None, title: str | None = None
) -> dict[str, Any]:
    """Return a verdict as JSON data; `origin` says how well the programme is the study's, None if nobody asked.

    `title` is the study's own: anyone can write another into a certificate.
    """
    claim = verdict.claim
    return {
        "title": certificate.title if title is None else title,
        "value": float(claim.value),
        "bound": float(claim.bound),
        "gap": float(claim.gap),
        "excess": float(verdict.excess),
        "leaves": verdict.leaves,
        "branchings": verdict.branchings,
        "study": origin,
        "formula": [{"stock": label, "grams": float(x)} for label, x in sorted(certificate.formula.items())],
        "inputs": [{"file": name, "sha256": digest} for name, digest in certificate.inputs],
    }


def verdict_text(data: Mapping[str, Any], width: int) -> str:
    """Return a verdict for people."""
    excess = data["excess"]
    held = "exactly" if excess == 0 else f"but for {excess:.1g} of its size"
    origin = {
        None: "Not checked: whether the programme in it is that of a study. --study STUDY checks it.",
        "exact": "The programme in it is that of the study, number by number.",
    }.get(data["study"], f"The programme in it is that of the study, {data['study']}.")
    words = (
        f"The certificate holds. The formula in it deviates by {data['value']:.6g}, and no formula within the limits "
        f"by less than {data['bound']:.6g}: proven closest, within {100 * data['gap']:.2g} %."
    )
    how = (
        f"Checked in exact arithmetic: {counted(data['leaves'], 'bound')} and "
        f"{counted(data['branchings'], 'branching')}. The formula, as it was before rounding, holds every limit {held}."
    )
    lines = aligned(
        [Column("Stock", wraps=True), Column("g before rounding", right=True)],
        [[line["stock"], f"{line['grams']:.6f}"] for line in data["formula"]],
        width,
    )
    return f"{paragraphs((data['title'], words, how, origin), width)}\n\n{lines}\n"


def verdict_csv(data: Mapping[str, Any]) -> str:
    """Write what a certificate proves, in one line: value, bound and gap (percent), and how it was proven."""
    columns = ("title", "value", "bound", "gap", "excess", "leaves", "branchings", "study")
    return csv_text({**dict.fromkeys(columns, str), "gap": exact_percent}, [data])


def written_text(claim: Mapping[str, Any], width: int) -> str:
    """Return what `fit` says of the certificate it wrote."""
    text = (
        f"Certificate in {claim['file']}: no formula deviates by less than {claim['bound']:.6g}, which is within "
        f"{100 * claim['gap']:.2g} % of this one before rounding."
    )
    return paragraph(text, width) + "\n"
