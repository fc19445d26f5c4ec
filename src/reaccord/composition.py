"""Opens blends inside blends: what one gram of each neat material holds."""

from __future__ import annotations

from collections.abc import Mapping

from reaccord.domain.stock import Content
from reaccord.findings import Findings
from reaccord.materials import Part, Reconciled

EMPTY = Content({}, {}, {}, 0.0)


def mix(portions: list[tuple[float, float, Content]]) -> Content:
    """Add up portions `(typical share, high share, content)` of contents."""
    typical: dict[str, float] = {}
    high: dict[str, float] = {}
    materials: dict[str, float] = {}
    undeclared = 0.0
    for share, most, content in portions:
        for name, gram in content.typical.items():
            typical[name] = typical.get(name, 0.0) + share * gram
        for name, gram in content.high.items():
            high[name] = high.get(name, 0.0) + most * gram
        for name, gram in content.materials.items():
            materials[name] = materials.get(name, 0.0) + most * gram
        undeclared += share * content.undeclared
    return Content(typical, high, materials, undeclared)


def pure(name: str) -> Content:
    """Return the content of a pure substance."""
    return Content({name: 1.0}, {name: 1.0}, {}, 0.0)


def dilute(content: Content, strength: float, carrier: Content) -> Content:
    """Return the content of `strength` gram of something in one gram, the rest being carrier."""
    if strength >= 1:
        return content
    return mix([(strength, strength, content), (1 - strength, 1 - strength, carrier)])


class Opener:
    """Opens materials, each once; a loop or a material without parts is an error finding."""

    def __init__(self, settled: Reconciled, findings: Findings) -> None:
        self._settled = settled
        self._findings = findings
        self._opened: dict[str, Content] = {}
        self._path: list[str] = []

    def all(self) -> Mapping[str, Content]:
        """Open every material that has parts."""
        for material in self._settled.materials.all():
            if self._settled.parts.get(material):
                self.material(material)
        return self._opened

    def material(self, name: str) -> Content:
        """Return what one gram of the neat material holds."""
        if name in self._opened:
            return self._opened[name]
        parts = self._settled.parts.get(name, [])
        if name in self._path:
            loop = [*self._path[self._path.index(name) :], name]
            self._findings.error("loop", f"a blend cannot hold itself: {' in '.join(loop[::-1])}.", parts[0].place)
            return EMPTY
        self._path.append(name)
        portions = [(part.share, part.high, self._part(part)) for part in parts]
        self._path.pop()
        mixed = mix(portions)
        rest = max(0.0, 1.0 - sum(part.share for part in parts))
        content = Content(mixed.typical, mixed.high, {**mixed.materials, name: 1.0}, mixed.undeclared + rest)
        self._opened[name] = content
        return content

    def carrier(self, name: str) -> Content:
        """Return the content of what a carrier column names."""
        if name in self._settled.carrier_materials:
            return self.material(name)
        return pure(name) if name else Content({}, {}, {}, 1.0)

    def _part(self, part: Part) -> Content:
        if part.kind == "undeclared":
            return Content({}, {}, {}, 1.0)
        if part.kind == "constituent":
            return pure(part.name)
        if not self._settled.parts.get(part.name):
            self._findings.error(
                "no-composition",
                f'nothing says what "{part.name}" is made of. Add its rows to the compositions, '
                "or the part undeclared with share 100.",
                part.place,
            )
            return EMPTY
        return dilute(self.material(part.name), part.strength, self.carrier(part.carrier))
