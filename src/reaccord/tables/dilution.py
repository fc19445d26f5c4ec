"""Doubts about a strength and a carrier that must go together, and a dilution that only its name says."""

from __future__ import annotations

import re
from collections.abc import Mapping

from reaccord.domain.lines import BottleLine, CompositionLine, FormulaLine
from reaccord.findings import Findings
from reaccord.names.text import shortened
from reaccord.tables.doubts import doubtful_cell

_IN_A_NAME = re.compile(
    r".*?(\d+(?:[.,]\d+)?)\s*%\s*(?:in\s+(\S.*)|(DPG|TEC|IPM|DEP|ethanol|alcohol))\s*", re.IGNORECASE | re.DOTALL
)
"""Abbreviations of carriers: common practice, no source."""


def ask_of_name(line: BottleLine, written: Mapping[str, str], findings: Findings) -> None:
    """Ask of a bottle without a strength whose name says one: `Geraniol 10 % in DPG`."""
    found = _IN_A_NAME.fullmatch(line.material)
    if found is None or written.get("strength"):
        return
    strength, carrier = found[1].replace(",", "."), found[2] or found[3]
    text = f"blank, but the name says {strength} % in {shortened(carrier)}. Write strength {strength} and carrier "
    cure = f"{shortened(carrier)}, or strength 100 if it is neat."
    findings.error("which-strength", text + cure, line.at.at("strength"))


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
