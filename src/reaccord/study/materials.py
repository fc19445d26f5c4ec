"""Materials under one spelling each, and what a study's tables are once their names are settled."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field

from reaccord.domain.constituent import UNDECLARED, Constituent
from reaccord.domain.settings import Settings
from reaccord.domain.settled import Part
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.key import did_you_mean, name_key, nearest
from reaccord.tables.doubts import doubtful_column


class MaterialNames:
    """One spelling for each material, case and spaces aside: the bottles' own, the first in the alphabet."""

    def __init__(self, tables: Tables) -> None:
        self._spelling: dict[str, str] = {}
        for lines in (tables.bottles, tables.compositions):
            for material in sorted(line.material for line in lines):
                self._spelling.setdefault(name_key(material), material)
        self._all = tuple(sorted(self._spelling.values()))

    def find(self, text: str) -> str | None:
        """Return the material's own spelling, or None if there is none of that name."""
        return self._spelling.get(name_key(text))

    def nearest(self, text: str, among: Iterable[str] | None = None) -> str | None:
        """Return the nearest material of all, or of `among`, for a hint."""
        return nearest(text, self._spelling.values() if among is None else among)

    def all(self) -> tuple[str, ...]:
        """Return every material, sorted."""
        return self._all


@dataclass
class Reconciled:
    """The tables with their names settled.

    `parts` by material, and by the name of a lot with an analysis of its own (`lots`: by material and lot);
    `short_forms` the constituent of a single chemical by material; `carriers` are the constituents a carrier column
    names, `carrier_materials` the materials one names, each with the files that do; `unread` are the materials with a
    row that could not be read.
    """

    tables: Tables
    names: NameBook
    materials: MaterialNames
    parts: dict[str, list[Part]] = field(default_factory=dict)
    lots: dict[tuple[str, str], str] = field(default_factory=dict)
    short_forms: dict[str, str] = field(default_factory=dict)
    carriers: dict[str, set[str]] = field(default_factory=dict)
    carrier_materials: dict[str, set[str]] = field(default_factory=dict)
    unread: frozenset[str] = frozenset()

    def analysis(self, material: str, lot: str = "") -> str:
        """Return under which name `parts` has what a lot of a material is made of: its own, else the material's.

        Where only one lot was analysed, that analysis speaks for the material.
        """
        own = self.lots.get((material, name_key(lot)))
        if own or self.parts.get(material):
            return own or material
        only = [name for (other, _), name in self.lots.items() if other == material]
        return only[0] if len(only) == 1 and not lot else material

    def owners(self) -> tuple[str, ...]:
        """Return every material, sorted, and the lots with an analysis of their own."""
        return (*self.materials.all(), *sorted(self.lots.values()))

    def material_of(self, owner: str) -> str:
        """Return whose analysis this is."""
        return next((material for (material, _), name in self.lots.items() if name == owner), owner)

    def inside(self, owner: str) -> tuple[str, ...]:
        """Return an analysis and those of all materials inside, each once."""
        found: dict[str, None] = {}
        waiting = [owner]
        while waiting:
            name = waiting.pop()
            if name not in found:
                found[name] = None
                waiting += [self.analysis(part.name) for part in self.parts.get(name, []) if part.kind == "material"]
        return tuple(found)

    def constituent(self, text: str) -> Constituent | None:
        """Return the constituent of this name; a material that is called just so goes before a decorated name."""
        if self.materials.find(text) is not None and self.names.decorated(text):
            return None
        return self.names.find(text)

    def carrier(self, text: str, place: Place, findings: Findings) -> str:
        """Settle the name in a carrier column: a constituent, else a material; "" stays ""."""
        if not text:
            return ""
        material = self.materials.find(text)
        if material is not None and self.constituent(text) is None:
            self.carrier_materials.setdefault(material, set()).add(place.file)
            return material
        name = self.names.settle(text, place, findings, extra_known=self.materials.all()).name
        self.carriers.setdefault(name, set()).add(place.file)
        return name

    def is_pure(self, material: str) -> bool:
        """Whether a material is one constituent and nothing else."""
        parts = self.parts.get(material, [])
        return len(parts) == 1 and parts[0].kind == "constituent" and parts[0].share >= 1

    def stands_for(self, material: str) -> frozenset[str]:
        """Return the names, of substances and of the material, that a neat bottle of `material` is a bottle of."""
        known = self.names.find(material)
        only = {part.name for part in self.parts.get(material, []) if part.kind != UNDECLARED}
        named = {material, known.name if known else "", self.short_forms.get(material, "")}
        return frozenset((named | (only if len(only) == 1 else set())) - {""})


def bottled(text: str, materials: Collection[str], settings: Settings, place: Place, findings: Findings) -> str | None:
    """Return which of the materials in bottles has this name, else None and an error.

    There is none where the material of some bottle could not be read: it may be that one.
    """
    key = name_key(text)
    material = next((material for material in materials if name_key(material) == key), None)
    if material is None and not doubtful_column(findings, settings.shelf.bottles, "material"):
        hint = did_you_mean(nearest(text, materials))
        findings.error("unknown-material", f'no bottle is called "{text}".{hint}', place)
    return material
