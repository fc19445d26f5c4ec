"""What a certificate proves, for scripts and for people."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from reaccord.certificate.format import Certificate
from reaccord.certificate.verify import Verdict
from reaccord.report.layout import Column, aligned, counted, paragraph


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
    parts = [paragraph(data["title"], width), *(paragraph(text, width) for text in (words, how, origin)), "", lines]
    return "\n".join(parts) + "\n"


def written_text(claim: Mapping[str, Any], width: int) -> str:
    """Return what `fit` says of the certificate it wrote."""
    text = (
        f"Certificate in {claim['file']}: no formula deviates by less than {claim['bound']:.6g}, which is within "
        f"{100 * claim['gap']:.2g} % of this one before rounding."
    )
    return paragraph(text, width) + "\n"
