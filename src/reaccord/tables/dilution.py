"""Doubts about a strength and a carrier that must go together."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.domain.lines import BottleLine, CompositionLine, FormulaLine
from reaccord.findings import Findings
from reaccord.tables.doubts import doubtful_cell


def doubt_dilution(
    line: BottleLine | CompositionLine | FormulaLine, written: Mapping[str, str], findings: Findings
) -> None:
    """Say where a strength stands without a carrier, or a carrier without a strength."""
    unread = doubtful_cell(findings, line.at.at("carrier"))
    strength = 1.0 if line.strength is None else line.strength
    if strength < 1 and not line.carrier and not unread:
        findings.error("blank", "a dilution without a carrier: what is it diluted in?", line.at.at("carrier"))
    if line.carrier and strength == 1 and not doubtful_cell(findings, line.at.at("strength")):
        said = "a carrier and a strength of 100 %" if written.get("strength") else "a carrier but no strength"
        text = f"{said}: taken as neat. If it is a dilution, write its strength."
        findings.warn("carrier-but-neat", text, line.at.at("strength"))
