"""Material names and the parts each material is made of, names reconciled; nothing opened yet."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field
from typing import Literal

from reaccord.area import response_factor
from reaccord.domain.lines import Basis, BottleLine, CompositionLine
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.key import did_you_mean, name_key, nearest
from reaccord.tables.doubts import Doubts

PartKind = Literal["constituent", "material", "undeclared"]
UNDECLARED = "undeclared"


@dataclass(frozen=True)
class Part:
    """One part of a neat material: fractions by mass; `strength` and `carrier` of a material part."""

    kind: PartKind
    name: str
    share: float
    high: float
    place: Place
    strength: float = 1.0
    carrier: str = ""


class MaterialNames:
    """One spelling for each material, case and spaces aside: the bottles' own, the first in the alphabet."""

    def __init__(self, tables: Tables) -> None:
        self._spelling: dict[str, str] = {}
        for lines in (tables.bottles, tables.compositions):
            for material in sorted(line.material for line in lines):
                self._spelling.setdefault(name_key(material), material)

    def find(self, text: str) -> str | None:
        """Return the material's own spelling, or None if there is none of that name."""
        return self._spelling.get(name_key(text))

    def nearest(self, text: str, among: Iterable[str] | None = None) -> str | None:
        """Return the nearest material of all, or of `among`, for a hint."""
        return nearest(text, self._spelling.values() if among is None else among)

    def all(self) -> tuple[str, ...]:
        """Return every material, sorted."""
        return tuple(sorted(self._spelling.values()))


@dataclass
class Reconciled:
    """The tables with their names settled.

    `parts` by material; `short_forms` the constituent of a single chemical by material; `carriers` are
    the constituents a carrier column names; `carrier_materials` the
    materials one names, `unread` those with a row that could not be read.
    """

    tables: Tables
    names: NameBook
    materials: MaterialNames
    parts: dict[str, list[Part]] = field(default_factory=dict)
    short_forms: dict[str, str] = field(default_factory=dict)
    carriers: set[str] = field(default_factory=set)
    carrier_materials: set[str] = field(default_factory=set)
    unread: frozenset[str] = frozenset()

    def carrier(self, text: str, place: Place, findings: Findings) -> str:
        """Settle the name in a carrier column: a constituent, else a material; "" stays ""."""
        if not text:
            return ""
        material = self.materials.find(text)
        if self.names.find(text) is None and material is not None:
            self.carrier_materials.add(material)
            return material
        name = self.names.settle(text, place, findings, extra_known=self.materials.all()).name
        self.carriers.add(name)
        return name

    def is_bottle_of(self, material: str, name: str) -> bool:
        """Whether a neat bottle of `material` is one of the substance (or material) `name`."""
        known = self.names.find(material)
        only = {part.name for part in self.parts.get(material, []) if part.kind != "undeclared"}
        return (
            material == name
            or (known is not None and known.name == name)
            or self.short_forms.get(material) == name
            or only == {name}
        )


def reconcile(tables: Tables, findings: Findings) -> Reconciled:
    """Settle every name of the target, the bottles and the compositions."""
    names = NameBook.build(tables.constituents, findings)
    materials = MaterialNames(tables)
    settled = Reconciled(tables, names, materials, unread=_unread(tables, materials, Doubts(findings)))
    _target_names(settled, findings)
    for bottle in tables.bottles:
        if bottle.constituent:
            names.settle(bottle.constituent, bottle.at.at("constituent"), findings)
        settled.carrier(bottle.carrier, bottle.at.at("carrier"), findings)
    _short_forms(settled, findings)
    _composition_rows(settled, findings)
    _warn_both(settled, findings)
    for material in materials.all():
        # sums are taken in this order whatever the order of the rows
        settled.parts.get(material, []).sort(key=_identity)
        _scale(material, settled, findings)
    return settled


def _unread(tables: Tables, materials: MaterialNames, doubts: Doubts) -> frozenset[str]:
    compositions = tables.settings.shelf.compositions
    if compositions and doubts.table(compositions):
        return frozenset(materials.all())
    lines: tuple[BottleLine | CompositionLine, ...] = (*tables.bottles, *tables.compositions)
    return frozenset(materials.find(line.material) or "" for line in lines if doubts.row(line.at))


def _target_names(settled: Reconciled, findings: Findings) -> None:
    names = settled.names
    in_bottles = {name_key(bottle.constituent) for bottle in settled.tables.bottles if bottle.constituent}
    for target in settled.tables.target:
        place = target.at.at("constituent")
        several = " + " in target.name
        known = names.find(target.name) is not None or name_key(target.name) in in_bottles
        if not several and not known and not target.cas and settled.materials.find(target.name):
            continue
        if not several and not known and any(names.find(piece) for piece in target.name.split("+") if piece.strip()):
            joined = " + ".join(piece.strip() for piece in target.name.split("+"))
            findings.error("joined", f'several in one row are joined with blanks round the plus: "{joined}".', place)
            continue
        if several and target.cas:
            at = target.at.at("cas")
            findings.warn("cas-of-several", "one CAS number beside several constituents; not read.", at)
        for name in target.name.split(" + "):
            names.settle(name.strip(), place, findings, cas="" if several else target.cas)


def _short_forms(settled: Reconciled, findings: Findings) -> None:
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


def _composition_rows(settled: Reconciled, findings: Findings) -> None:
    bases = _bases(settled, findings)
    area_lines: dict[str, list[Part]] = {}
    for line in settled.tables.compositions:
        if _own_name(line) or line.part_kind == "constituent":
            settled.names.settle(line.part, line.at.at("part"), findings)
    for line in settled.tables.compositions:
        material = settled.materials.find(line.material) or line.material
        part = _part(line, settled, findings)
        parts = settled.parts.setdefault(material, [])
        same = next((p for p in parts if _identity(p) == _identity(part)), None)
        if same is not None:
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


def _own_name(line: CompositionLine) -> bool:
    """Whether a part has the name of its own material: that can only be the constituent."""
    return line.part_kind != "material" and name_key(line.part) == name_key(line.material)


def _identity(part: Part) -> tuple[str, str, float, str]:
    return part.kind, part.name, part.strength, part.carrier


def _part(line: CompositionLine, settled: Reconciled, findings: Findings) -> Part:
    high = line.high if line.high is not None else line.share.high
    place = line.at.at("part")
    if line.part.lower() == UNDECLARED:
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
    known = settled.names.find(line.part)
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


def _warn_both(settled: Reconciled, findings: Findings) -> None:
    """Say where a part was taken as a constituent though a material has its name too.

    Where that material is nothing but a bottle of the constituent, only a blend of materials can have
    meant the bottle; an analysis cannot.
    """
    warned: set[str] = set()
    for line in settled.tables.compositions:
        both = settled.materials.find(line.part)
        known = settled.names.find(line.part)
        if line.part_kind or both is None or known is None or known.name in warned or _own_name(line):
            continue
        short_form = settled.is_bottle_of(both, known.name)
        material = settled.materials.find(line.material) or line.material
        if short_form and all(p.kind != "material" for p in settled.parts.get(material, [])):
            continue
        warned.add(known.name)
        findings.warn(
            "constituent-or-material",
            f'"{line.part}" is a constituent and a material; taken as the constituent, pure. Say which in part_kind.',
            line.at.at("part"),
        )


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


def _scale(material: str, settled: Reconciled, findings: Findings) -> None:
    """Scale a composition of 100 to 102 % to 100 % and say so; more is an error."""
    parts = settled.parts.get(material, [])
    total = sum(part.share for part in parts)
    if total <= 1 + 1e-9:
        return
    first = min((part.place for part in parts), key=lambda place: place.row or 0)
    place = Place(first.file, first.row, "share")
    if total > 1.02 + 1e-9:
        findings.error(
            "over-100", f"the parts of {material} add up to {total * 100:.4g} %, which is over 102 %.", place
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
