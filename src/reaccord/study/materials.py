"""Materials under one spelling each, and what a study's tables are once their names are settled."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass, field
from typing import Literal

from reaccord.domain.constituent import UNDECLARED, Constituent
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.key import did_you_mean, name_key, nearest
from reaccord.tables.doubts import doubtful_column

PartKind = Literal["constituent", "material", "undeclared"]


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
    names; `carrier_materials` the materials one names, `unread` those with a row that could not be read.
    """

    tables: Tables
    names: NameBook
    materials: MaterialNames
    parts: dict[str, list[Part]] = field(default_factory=dict)
    lots: dict[tuple[str, str], str] = field(default_factory=dict)
    short_forms: dict[str, str] = field(default_factory=dict)
    carriers: set[str] = field(default_factory=set)
    carrier_materials: set[str] = field(default_factory=set)
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
            self.carrier_materials.add(material)
            return material
        name = self.names.settle(text, place, findings, extra_known=self.materials.all()).name
        self.carriers.add(name)
        return name

    def bottled(self, text: str, bottled: Collection[str], place: Place, findings: Findings) -> str | None:
        """Return the material of this name if a bottle holds it, else None and an error.

        There is none where the material of some bottle could not be read: it may be that one.
        """
        material = self.materials.find(text)
        if material in bottled:
            return material
        if not doubtful_column(findings, self.tables.settings.shelf.bottles, "material"):
            hint = did_you_mean(self.materials.nearest(text, bottled))
            findings.error("unknown-material", f'no bottle is called "{text}".{hint}', place)
        return None

    def is_pure(self, material: str) -> bool:
        """Whether a material is one constituent and nothing else."""
        parts = self.parts.get(material, [])
        return len(parts) == 1 and parts[0].kind == "constituent" and parts[0].share >= 1

    def is_bottle_of(self, material: str, name: str) -> bool:
        """Whether a neat bottle of `material` is one of the substance (or material) `name`."""
        known = self.names.find(material)
        only = {part.name for part in self.parts.get(material, []) if part.kind != UNDECLARED}
        return (
            material == name
            or (known is not None and known.name == name)
            or self.short_forms.get(material) == name
            or only == {name}
        )
