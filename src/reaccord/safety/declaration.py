"""What a label must name: those substances and naturals of a list of which the product holds more than a threshold.

The list is data with an authority, an edition and a day (`declaration_eu.csv`, or the person's own). Isomers of one
entry count together, contents at their high end; a natural counts as its neat mass, wherever it is inside.
"""

from __future__ import annotations

import datetime
import math
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from reaccord.answer.judge import Judgement
from reaccord.domain.lines import DeclarationLine
from reaccord.domain.stock import Content
from reaccord.domain.study import Study
from reaccord.domain.tables import InputFile
from reaccord.findings import Findings
from reaccord.names.key import name_key
from reaccord.tables.read import read_declaration

SHIPPED = Path(__file__).with_name("declaration_eu.csv")
SEVERAL, NEARLY_ALL = 4, 0.8
"""Parts that a natural has at least, and the share of one part that a single chemical has (ours)."""
USES = ("leave-on", "rinse-off")


@dataclass(frozen=True)
class Declared:
    """One entry that the product holds something of: share of the product, threshold, materials it comes from."""

    line: DeclarationLine
    share: float
    threshold: float
    sources: tuple[str, ...]

    @property
    def listed(self) -> bool:
        """Whether the label must name it, or the product may not hold it."""
        return self.share > self.threshold

    def due(self, today: datetime.date) -> datetime.date | None:
        """Return the day from which a product new on the market declares it, if that is still to come."""
        day = self.line.new_from
        return day if day is not None and day > today else None


@dataclass(frozen=True)
class Declaration:
    """What a label names; `table` is the list used, `unnamed` blends whose bottles bear no label name."""

    entries: tuple[Declared, ...]
    table: InputFile
    lines: tuple[DeclarationLine, ...]
    unnamed: tuple[str, ...]


def declaration(study: Study, judged: Judgement, lines: Sequence[DeclarationLine], table: InputFile) -> Declaration:
    """Return what the label of a product of the study's dosage and use must name, most first.

    Raises
    ------
    ValueError
        If the study states no dosage, or no use that is cosmetic.
    """
    limits = study.settings.limits
    if limits.dosage is None or limits.use not in USES:
        raise ValueError("a declaration needs limits.dosage and limits.use (leave-on or rinse-off)")
    per_gram = limits.dosage / judged.totals.accord_g
    held = _by_source(judged, lambda content: content.high)
    carried = _by_source(judged, lambda content: content.materials)
    labels = {bottle.key.material: bottle.line.label_name for bottle in study.settled.bottles if bottle.line.label_name}
    found = []
    for line in lines:
        threshold = (line.leave_on if limits.use == "leave-on" else line.rinse_off) or 0.0
        if line.kind == "natural":
            names = {m for m in carried if _begins(labels.get(m, ""), (line.label_name, *line.begins))}
            parts = {name: carried[name] for name in names}
        else:
            parts = {name: held[name] for name in _named(study, line, held)}
        grams = math.fsum(gram for sources in parts.values() for gram in sources.values())
        if grams > 0:
            found.append(Declared(line, per_gram * grams, threshold, _ranked(parts.values())))
    found.sort(key=lambda entry: (-entry.share, entry.line.label_name))
    return Declaration(tuple(found), table, tuple(lines), _unnamed(study, judged, labels))


def read_list(path: Path | None, use: str | None) -> tuple[tuple[DeclarationLine, ...], InputFile]:
    """Read a list of what labels name: the one that comes along, or another.

    Raises
    ------
    InvalidInput
        With every finding of it; a threshold that is blank is one, where products of this use need it.
    """
    findings = Findings()
    found = read_declaration(path or SHIPPED, findings)
    findings.raise_errors()
    assert found is not None
    for line in found[0]:
        _need_threshold(line, use, findings)
    findings.raise_errors()
    return found


def _need_threshold(line: DeclarationLine, use: str | None, findings: Findings) -> None:
    """Ask for a threshold that is blank: nothing says whether any amount is declared, or somebody forgot it."""
    of_uses = {"leave-on": line.leave_on, "rinse-off": line.rinse_off}
    asked = [use] if use in of_uses else list(of_uses)
    if line.kind == "prohibited" or any(of_uses[each] is not None for each in asked):
        return
    text = (
        f"blank: from how much on does the label of a {' or '.join(asked)} product name {line.label_name}? Write the "
        'share ("0.001 %"), 0 if any amount is named, or the kind prohibited if there may be none.'
    )
    findings.error("blank", text, line.at.at(asked[0].replace("-", "_")))


def declared_by(study: Study, judged: Judgement, path: Path | None = None) -> Declaration | None:
    """Return what a label names, by the list that comes along or another; None where nobody says dosage and use."""
    limits = study.settings.limits
    lines, table = read_list(path, limits.use)
    if limits.dosage is None or limits.use not in USES:
        return None
    return declaration(study, judged, lines, table)


def _by_source(judged: Judgement, held: Callable[[Content], Mapping[str, float]]) -> dict[str, dict[str, float]]:
    """Return gram by what one gram of a content is said to hold, and by material poured."""
    found: dict[str, dict[str, float]] = {}
    for line in judged.lines:
        material = line.stock.key.material
        for name, share in held(line.stock.content).items():
            if share > 0:
                sources = found.setdefault(name, {})
                sources[material] = sources.get(material, 0.0) + share * line.grams
    return found


def _named(study: Study, line: DeclarationLine, held: Iterable[str]) -> list[str]:
    """Return the constituents that an entry is about: by CAS number, else by name."""
    numbers, key = {text.strip() for text in line.cas}, name_key(line.label_name)
    found = []
    for name in held:
        known = study.constituents.get(name)
        if (known is not None and known.cas in numbers) or name_key(name) == key:
            found.append(name)
    return sorted(found)


def _begins(label: str, starts: Iterable[str]) -> bool:
    """Whether a label name is one of these, or begins with one of them word by word."""
    words, beginnings = label.casefold().split(), [start.casefold().split() for start in starts]
    return any(words[: len(start)] == start for start in beginnings if start)


def _ranked(parts: Iterable[Mapping[str, float]]) -> tuple[str, ...]:
    together: dict[str, float] = {}
    for sources in parts:
        for material, gram in sources.items():
            together[material] = together.get(material, 0.0) + gram
    return tuple(sorted(together, key=lambda material: (-together[material], material)))


def _unnamed(study: Study, judged: Judgement, labels: Mapping[str, str]) -> tuple[str, ...]:
    """Return what is inside without a label name and may be a natural: of many constituents, none nearly all."""
    inside = {material for line in judged.lines for material in line.stock.content.materials}
    several = {
        study.settled.analysed.get(analysis, analysis)
        for analysis, parts in study.settled.parts.items()
        if len(parts) >= SEVERAL and max(part.share for part in parts) < NEARLY_ALL
    }
    return tuple(sorted(inside & several - labels.keys()))
