"""Opens blends inside blends: what one gram of each neat material holds."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from graphlib import CycleError, TopologicalSorter

from reaccord.domain.settled import Part
from reaccord.domain.stock import Content
from reaccord.findings import Findings
from reaccord.study.materials import Reconciled

UNKNOWN = Content({}, {}, {}, 1.0, 1.0)
EMPTY = Content({}, {}, {}, 0.0, 0.0)


def mix(portions: list[tuple[float, float, Content]]) -> Content:
    """Add up portions `(typical share, high share, content)` of contents."""
    typical: dict[str, float] = {}
    high: dict[str, float] = {}
    materials: dict[str, float] = {}
    undeclared = undeclared_high = 0.0
    for share, most, content in portions:
        for name, gram in content.typical.items():
            typical[name] = typical.get(name, 0.0) + share * gram
        for name, gram in content.high.items():
            high[name] = high.get(name, 0.0) + most * gram
        for name, gram in content.materials.items():
            materials[name] = materials.get(name, 0.0) + most * gram
        undeclared += share * content.undeclared
        undeclared_high += most * content.undeclared_high
    return Content(typical, high, materials, undeclared, undeclared_high)


def pure(name: str) -> Content:
    """Return the content of a pure substance."""
    return Content({name: 1.0}, {name: 1.0}, {}, 0.0, 0.0)


def dilute(content: Content, strength: float, carrier: Content) -> Content:
    """Return the content of `strength` gram of something in one gram, the rest being carrier."""
    if strength >= 1:
        return content
    return mix([(strength, strength, content), (1 - strength, 1 - strength, carrier)])


class Opener:
    """Opens materials, parts before blends; a loop or a material without parts is an error finding.

    `order` is every material, what it holds coming before it.
    """

    def __init__(self, settled: Reconciled, findings: Findings) -> None:
        self._settled = settled
        self._findings = findings
        self._opened: dict[str, Content] = {}
        self.order = self._order()
        for material in self.order:
            self._opened[material] = self._open(material)

    def all(self) -> Mapping[str, Content]:
        """Return the content of every material, and of every lot with an analysis of its own, that has parts."""
        return {name: content for name, content in self._opened.items() if self._settled.parts.get(name)}

    def material(self, name: str, lot: str = "") -> Content:
        """Return what one gram of the neat material holds; of a lot, by its own analysis if it has one."""
        return self._opened.get(self._settled.analysis(name, lot), EMPTY)

    def carrier(self, name: str) -> Content:
        """Return the content of what a carrier column names."""
        if name in self._settled.carrier_materials:
            return self.material(name)
        return pure(name) if name else UNKNOWN

    def diluting(self) -> tuple[frozenset[str], frozenset[str]]:
        """Return the carriers: marked as such or named by a carrier column; and what the dilutions to be made add."""
        marked = {name for name, known in self._settled.names.known().items() if known.carrier}
        own, made = marked, set[str]()
        study = {self._settled.tables.settings.file}
        for name, files in self._settled.carriers.items():
            (made if files == study else own).add(name)
        for material, files in self._settled.carrier_materials.items():
            (made if files == study else own).update(self.material(material).typical)
        return frozenset(own), frozenset(made)

    def _holds(self, material: str) -> set[str]:
        parts = [part for part in self._settled.parts.get(material, []) if part.kind == "material"]
        carriers = {part.carrier for part in parts if part.strength < 1} & self._settled.carrier_materials.keys()
        return {self._settled.analysis(part.name) for part in parts} | carriers

    def _order(self) -> tuple[str, ...]:
        holds = {owner: self._holds(owner) for owner in self._settled.owners()}
        while True:
            try:
                sorter = TopologicalSorter({name: sorted(inside) for name, inside in holds.items()})
                return tuple(sorter.static_order())
            except CycleError as fault:
                loop: list[str] = fault.args[1][:-1]
                first = loop.index(min(loop))
                loop = [*loop[first:], *loop[:first]]
                inner, outer = loop[0], loop[1 % len(loop)]
                held = self._settled.parts[outer]
                place = next(p.place for p in held if inner in {self._settled.analysis(p.name), p.carrier})
                text = f"a blend cannot hold itself: {' in '.join([*loop, loop[0]])}."
                if len(loop) == 1:
                    text += " If the constituent of that name is meant, write constituent in part_kind."
                self._findings.error("loop", text, place)
                holds[outer].discard(inner)

    def _open(self, name: str) -> Content:
        parts = self._settled.parts.get(name, [])
        inside = [self._part(part) for part in parts]
        mixed = mix([(part.share, part.high, held) for part, held in zip(parts, inside, strict=True)])
        rest = max(0.0, 1.0 - sum(part.share for part in parts))
        named = sum(part.low * (1 - held.undeclared_high) for part, held in zip(parts, inside, strict=True))
        return replace(
            mixed,
            materials={**mixed.materials, self._settled.material_of(name): 1.0},
            undeclared=mixed.undeclared + rest,
            undeclared_high=max(0.0, 1.0 - named),
        )

    def _part(self, part: Part) -> Content:
        if part.kind == "undeclared":
            return UNKNOWN
        if part.kind == "constituent":
            return pure(part.name)
        if not self._settled.parts.get(self._settled.analysis(part.name)):
            if part.name not in self._settled.unread:
                self._findings.error(
                    "no-composition",
                    f'nothing says what "{part.name}" is made of. Add its rows to the compositions, '
                    "or the part undeclared with share 100.",
                    part.place,
                )
            return EMPTY
        return dilute(self.material(part.name), part.strength, self.carrier(part.carrier))
