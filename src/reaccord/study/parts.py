"""What each material is made of: short forms and composition rows into parts, fractions by mass; nothing opened yet."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.domain.constituent import UNDECLARED
from reaccord.domain.lines import Basis, BottleLine, CompositionLine
from reaccord.domain.settled import Part, PartKind
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.key import did_you_mean, name_key
from reaccord.study.area import response_factor
from reaccord.study.dilutions import ask_strength
from reaccord.study.materials import Reconciled

LIKE_FRACTIONS = 0.0102
"""A composition that adds up to no more, in percent, looks like one in fractions."""


SMALL_SUM = 0.5
"""A composition that adds up to less says little of a material."""


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
            high = bottle.purity if bottle.purity_high is None else bottle.purity_high
            part = Part("constituent", name, 2 * bottle.purity - high, bottle.purity, high, bottle.at.at("constituent"))
            settled.parts[material] = [part]
            settled.short_forms[material] = name
        elif (settled.parts[material][0].name, other.purity) != (name, bottle.purity):
            findings.error(
                "two-analyses",
                f"{material} has another analysis in row {other.at.row}. "
                "Give each lot's analysis in the compositions (column lot), or this one a name of its own.",
                bottle.at.at("purity"),
            )


def composition_rows(settled: Reconciled, findings: Findings) -> None:
    """Enter the parts that the composition rows state, area converted to mass."""
    owners = {id(line): _owner(line, settled) for line in settled.tables.compositions}
    bases = _bases(settled, owners, findings)
    area_lines: dict[str, list[Part]] = {}
    first = {(m, identity(part)): part for m, parts in settled.parts.items() for part in parts}
    for line in settled.tables.compositions:
        if line.part_kind == "constituent":
            settled.names.settle(line.part, line.at.at("part"), findings)
    for line in settled.tables.compositions:
        owner = owners[id(line)]
        part = _part(line, settled, findings)
        parts = settled.parts.setdefault(owner, [])
        same = first.setdefault((owner, identity(part)), part)
        if same in settled.parts[owner] and owner in settled.short_forms and same.place.file != part.place.file:
            _two_statements(owner, (same, part), settled, findings)
            first[owner, identity(part)] = part
        elif same is not part:
            findings.error(
                "duplicate-part",
                f'"{line.part}" of {owner} stands in row {same.place.row} already.',
                line.at.at("part"),
            )
            continue
        parts.append(part)
        if bases.get(owner) == "fid-area":
            area_lines.setdefault(owner, []).append(part)
    for owner, parts in area_lines.items():
        converted = dict(zip(map(id, parts), _area_to_mass(parts, settled.names, findings), strict=True))
        settled.parts[owner] = [converted.get(id(part), part) for part in settled.parts[owner]]
    _unused_lots(settled, findings)


def _two_statements(owner: str, both: tuple[Part, Part], settled: Reconciled, findings: Findings) -> None:
    """A purity beside an analysis that names its constituent too: ask which counts; the analysis goes on."""
    short, stated = both
    text = f"{owner} is {short.share * 100:.6g} % {short.name} by row {short.place.row} of {short.place.file}, and "
    text += f"{stated.share * 100:.6g} % here. Which counts? Blank constituent and purity there, or take this row out."
    findings.error("duplicate-part", text, stated.place)
    settled.parts[owner].remove(short)


def _owner(line: CompositionLine, settled: Reconciled) -> str:
    """Return whose part a row states: a material's, or that of one lot of it."""
    material = settled.materials.find(line.material) or line.material
    if not line.lot:
        return material
    return settled.lots.setdefault((material, name_key(line.lot)), f"{material} (lot {line.lot})")


def _unused_lots(settled: Reconciled, findings: Findings) -> None:
    """Warn of an analysis of a lot that no bottle is of: often a misspelt lot."""
    there = {(settled.materials.find(b.material) or b.material, name_key(b.lot)) for b in settled.tables.bottles}
    said: set[str] = set()
    for line in settled.tables.compositions:
        owner = _owner(line, settled)
        material = settled.material_of(owner)
        if line.lot and owner not in said and (material, name_key(line.lot)) not in there:
            said.add(owner)
            text = f'no bottle of {material} is of lot "{line.lot}": its analysis is not used.'
            findings.warn("unused-composition", text, line.at.at("lot"))


def _bases(settled: Reconciled, owners: Mapping[int, str], findings: Findings) -> dict[str, Basis]:
    """Return the basis of each analysis that states one; two are an error."""
    stated: dict[str, CompositionLine] = {}
    for line in settled.tables.compositions:
        owner = owners[id(line)]
        first = stated.setdefault(owner, line) if line.basis else line
        if first.basis != line.basis:
            findings.error(
                "two-bases",
                f"{owner} is given by {first.basis} in row {first.at.row}. One basis a material.",
                line.at.at("basis"),
            )
    return {owner: line.basis for owner, line in stated.items() if line.basis}


def own_name(line: CompositionLine) -> bool:
    """Whether a part has the name of its own material: the constituent, or a blend that would hold itself."""
    return line.part_kind != "material" and name_key(line.part) == name_key(line.material)


def identity(part: Part) -> tuple[str, str, float, str]:
    """Return what tells one part of a material from another."""
    return part.kind, part.name, part.strength, part.carrier


def _part(line: CompositionLine, settled: Reconciled, findings: Findings) -> Part:
    low = line.share.low if line.low is None else line.low
    shares = low, line.share.number, line.share.high if line.high is None else line.high
    place = line.at.at("part")
    if name_key(line.part) == UNDECLARED:
        return Part("undeclared", UNDECLARED, *shares, place)
    kind, name = _part_name(line, settled, findings)
    carrier = settled.carrier(line.carrier, line.at.at("carrier"), findings)
    strength = 1.0 if line.strength is None else line.strength
    if kind == "constituent" and (strength < 1 or carrier):
        findings.error(
            "strength-of-constituent",
            f'"{line.part}" is a constituent; only a material part has a strength and a carrier.',
            line.at.at("strength"),
        )
        return Part(kind, name, *shares, place)
    if kind == "material" and line.strength is None:
        bottles = [(bottle.strength, bottle.carrier) for bottle in _bottles(name, settled)]
        ask_strength(name, bottles, "strength 100", line.at, findings)
    return Part(kind, name, *shares, place, strength, carrier)


def _bottles(material: str, settled: Reconciled) -> list[BottleLine]:
    """Return the bottles of a material; none where a row of it could not be read."""
    if material in settled.unread:
        return []
    return [bottle for bottle in settled.tables.bottles if settled.materials.find(bottle.material) == material]


def _part_name(line: CompositionLine, settled: Reconciled, findings: Findings) -> tuple[PartKind, str]:
    place = line.at.at("part")
    material = settled.materials.find(line.part)
    known = settled.constituent(line.part)
    other = material is not None and material != settled.materials.find(line.material)
    if line.part_kind == "material" or (
        not line.part_kind and material is not None and (known is None or (other and line.diluted))
    ):
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
    """Convert an area-percent analysis; the sum over its rows is kept."""
    factors: list[float] = []
    for part in parts:
        if part.kind == "material":
            findings.error("area-of-material", "an area analysis lists constituents only.", part.place)
        known = part.kind == "constituent"
        factors.append(response_factor((part.name,), part.place, names, findings) if known else 1.0)
    before = sum(part.share for part in parts)
    after = sum(part.share * factor for part, factor in zip(parts, factors, strict=True))
    scale = before / after if after > 0 else 1.0
    return [_times(part, factor * scale) for part, factor in zip(parts, factors, strict=True)]


def _times(part: Part, factor: float) -> Part:
    return part._replace(low=part.low * factor, share=part.share * factor, high=part.high * factor)


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
    elif LIKE_FRACTIONS < total < SMALL_SUM and settled.material_of(material) in _bottled(settled):
        text = f"the parts of {material} add up to only {total * 100:.4g} %; the rest is undeclared."
        findings.warn("small-sum", text, place)
    if total <= 1 + 1e-9:
        return
    if total > 1.02 + 1e-9:
        text = f"the parts of {material} add up to {total * 100:.7g} %, which is over 102 %."
        cure = " Does a part add up others, or stand twice? If all are right, divide each by their sum."
        findings.error("over-100", text + cure, place)
        return
    findings.warn(
        "scaled-to-100",
        f"the parts of {material} add up to {total * 100:.5g} %; scaled to 100 %.",
        place,
    )
    settled.parts[material] = [_times(part, 1 / total) for part in parts]


def _bottled(settled: Reconciled) -> set[str]:
    return {settled.materials.find(bottle.material) or bottle.material for bottle in settled.tables.bottles}


def _first_row(parts: list[Part], compositions: str) -> Place:
    """Return the first of the composition rows that state these parts; a purity among the bottles is none of them."""
    rows = [part.place for part in parts if part.place.file == compositions] or [part.place for part in parts]
    first = min(rows, key=lambda place: place.row or 0)
    return first.at("share" if first.file == compositions else "purity")
