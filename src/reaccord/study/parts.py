"""What each material is made of: short forms and composition rows into parts, fractions by mass; nothing opened yet."""

from __future__ import annotations

from reaccord.domain.constituent import UNDECLARED
from reaccord.domain.lines import Basis, BottleLine, CompositionLine
from reaccord.domain.settled import Part, PartKind
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.key import did_you_mean, name_key
from reaccord.study.area import response_factor
from reaccord.study.materials import Reconciled

LIKE_FRACTIONS = 0.0102
"""A composition that adds up to no more, in percent, looks like one in fractions."""


def short_forms(settled: Reconciled, findings: Findings) -> None:
    """Enter the part of each single chemical; two purities of one material are an error."""
    first: dict[str, BottleLine] = {}
    for bottle in settled.tables.bottles:
        material = settled.materials.find(bottle.material) or bottle.material
        if not bottle.constituent or bottle.purity is None:
            continue
        known = settled.names.find(bottle.constituent)
        name = known.name if known else bottle.constituent
        other = first.setdefault(material, bottle)
        if other is bottle:
            part = Part("constituent", name, bottle.purity, bottle.purity, bottle.at.at("constituent"))
            settled.parts[material] = [part]
            settled.short_forms[material] = name
        elif (settled.parts[material][0].name, other.purity) != (name, bottle.purity):
            findings.error(
                "two-analyses",
                f"{material} has another analysis in row {other.at.row}. "
                "Lots with different analyses are different materials: give this one a name of its own.",
                bottle.at.at("purity"),
            )


def composition_rows(settled: Reconciled, findings: Findings) -> None:
    """Enter the parts that the composition rows state, area converted to mass."""
    bases = _bases(settled, findings)
    area_lines: dict[str, list[Part]] = {}
    first = {(m, identity(part)): part for m, parts in settled.parts.items() for part in parts}
    for line in settled.tables.compositions:
        if line.part_kind == "constituent":
            settled.names.settle(line.part, line.at.at("part"), findings)
    for line in settled.tables.compositions:
        material = settled.materials.find(line.material) or line.material
        part = _part(line, settled, findings)
        parts = settled.parts.setdefault(material, [])
        same = first.setdefault((material, identity(part)), part)
        if same is not part:
            findings.error(
                "duplicate-part",
                f'"{line.part}" of {material} stands in row {same.place.row}'
                + (f" of {same.place.file}" if same.place.file != line.at.file else "")
                + " already.",
                line.at.at("part"),
            )
            continue
        parts.append(part)
        if bases.get(material) == "fid-area":
            area_lines.setdefault(material, []).append(part)
    for material, parts in area_lines.items():
        converted = dict(zip(map(id, parts), _area_to_mass(parts, settled.names, findings), strict=True))
        settled.parts[material] = [converted.get(id(part), part) for part in settled.parts[material]]


def _bases(settled: Reconciled, findings: Findings) -> dict[str, Basis]:
    """Return the basis of each material that states one; two are an error."""
    stated: dict[str, CompositionLine] = {}
    for line in settled.tables.compositions:
        material = settled.materials.find(line.material) or line.material
        first = stated.setdefault(material, line) if line.basis else line
        if first.basis != line.basis:
            findings.error(
                "two-bases",
                f"{material} is given by {first.basis} in row {first.at.row}. One basis a material.",
                line.at.at("basis"),
            )
    return {material: line.basis for material, line in stated.items() if line.basis}


def own_name(line: CompositionLine) -> bool:
    """Whether a part has the name of its own material: the constituent, or a blend that would hold itself."""
    return line.part_kind != "material" and name_key(line.part) == name_key(line.material)


def identity(part: Part) -> tuple[str, str, float, str]:
    """Return what tells one part of a material from another."""
    return part.kind, part.name, part.strength, part.carrier


def _part(line: CompositionLine, settled: Reconciled, findings: Findings) -> Part:
    high = line.high if line.high is not None else line.share.high
    place = line.at.at("part")
    if name_key(line.part) == UNDECLARED:
        return Part("undeclared", UNDECLARED, line.share.number, high, place)
    kind, name = _part_name(line, settled, findings)
    carrier = settled.carrier(line.carrier, line.at.at("carrier"), findings)
    if kind == "constituent" and (line.strength < 1 or carrier):
        findings.error(
            "strength-of-constituent",
            f'"{line.part}" is a constituent; only a material part has a strength and a carrier.',
            line.at.at("strength"),
        )
        return Part(kind, name, line.share.number, high, place)
    return Part(kind, name, line.share.number, high, place, line.strength, carrier)


def _part_name(line: CompositionLine, settled: Reconciled, findings: Findings) -> tuple[PartKind, str]:
    place = line.at.at("part")
    material = settled.materials.find(line.part)
    known = settled.constituent(line.part)
    if line.part_kind == "material" or (not line.part_kind and known is None and material is not None):
        if material is None:
            hint = settled.materials.nearest(line.part)
            findings.error(
                "unknown-material",
                f'no material is called "{line.part}".' + did_you_mean(hint),
                place,
            )
            return "undeclared", line.part
        return "material", material
    settled_name = settled.names.settle(line.part, place, findings, extra_known=settled.materials.all())
    return "constituent", settled_name.name


def _area_to_mass(parts: list[Part], names: NameBook, findings: Findings) -> list[Part]:
    """Convert an area-percent analysis; the sum over its rows is kept (model.md)."""
    factors: list[float] = []
    for part in parts:
        if part.kind == "material":
            findings.error("area-of-material", "an area analysis lists constituents only.", part.place)
        known = part.kind == "constituent"
        factors.append(response_factor((part.name,), part.place, names, findings) if known else 1.0)
    before = sum(part.share for part in parts)
    after = sum(part.share * factor for part, factor in zip(parts, factors, strict=True))
    scale = before / after if after > 0 else 1.0
    return [
        Part(p.kind, p.name, p.share * f * scale, p.high * f * scale, p.place)
        for p, f in zip(parts, factors, strict=True)
    ]


def scale(material: str, settled: Reconciled, findings: Findings) -> None:
    """Scale a composition of 100 to 102 % to 100 % and say so; more is an error."""
    parts = settled.parts.get(material, [])
    total = sum(part.share for part in parts)
    place = _first_row(parts, settled.tables.settings.shelf.compositions) if parts else Place()
    if 0 < total <= LIKE_FRACTIONS and place.column == "share":
        findings.warn(
            "small-sum",
            f"the parts of {material} add up to only {total * 100:.4g} %; the rest is undeclared. A plain number is "
            "percent: if these are fractions, write them as percent.",
            place,
        )
    if total <= 1 + 1e-9:
        return
    if total > 1.02 + 1e-9:
        findings.error(
            "over-100", f"the parts of {material} add up to {total * 100:.7g} %, which is over 102 %.", place
        )
        return
    findings.warn(
        "scaled-to-100",
        f"the parts of {material} add up to {total * 100:.5g} %; scaled to 100 %.",
        place,
    )
    settled.parts[material] = [
        Part(p.kind, p.name, p.share / total, p.high / total, p.place, p.strength, p.carrier) for p in parts
    ]


def _first_row(parts: list[Part], compositions: str) -> Place:
    """Return the first of the composition rows that state these parts; a purity among the bottles is none of them."""
    rows = [part.place for part in parts if part.place.file == compositions] or [part.place for part in parts]
    first = min(rows, key=lambda place: place.row or 0)
    return first.at("share" if first.file == compositions else "purity")
