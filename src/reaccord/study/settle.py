"""The tables settled: names, materials and bottles; whatever no setting that can be changed has a part in."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence

from reaccord.domain.settled import Part, Settled
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.names.key import did_you_mean
from reaccord.study.bottles import bottles
from reaccord.study.composition import Opener
from reaccord.study.materials import Reconciled
from reaccord.study.reconcile import reconcile
from reaccord.study.rules import rule_entries
from reaccord.study.target_entries import entries


def settle(tables: Tables, findings: Findings) -> Settled:
    """Settle the tables; every error is noted, none raised."""
    settled = reconcile(tables, findings)
    opener = Opener(settled, findings)
    target = entries(settled, opener, findings)
    shelf = bottles(settled, opener, target, findings)
    _say_unused(settled, {bottle.key.material for bottle in shelf}, findings)
    rules = rule_entries(settled, findings)
    settled.names.say_taken(findings)
    settled.names.say_unknown(findings)
    diluting, diluting_made = opener.diluting()
    return Settled(
        target=target,
        bottles=shelf,
        rules=rules,
        order=opener.order,
        parts={material: tuple(parts) for material, parts in settled.parts.items()},
        speaks_for={m: named for m in settled.materials.all() if (named := settled.analysis(m)) != m},
        analysed={named: material for (material, _), named in settled.lots.items()},
        stands_for={bottle.key.material: settled.stands_for(bottle.key.material) for bottle in shelf},
        carrier_materials=frozenset(settled.carrier_materials),
        diluting=diluting,
        diluting_made=diluting_made,
        dilution_carrier=_dilution_carrier(settled),
        constituents=dict(settled.names.known()),  # a study can be sent to another process
        unknown=settled.names.unknown(),
        asked=settled.names.asked(),
        warnings=findings.warnings,
        multiples={},
    )


def _inside(materials: Iterable[str], parts: Mapping[str, Sequence[Part]]) -> set[str]:
    """Return the materials and all materials inside them."""
    found: set[str] = set()
    waiting = list(materials)
    while waiting:
        name = waiting.pop()
        if name not in found:
            found.add(name)
            waiting += [part.name for part in parts.get(name, ()) if part.kind == "material"]
    return found


def _dilution_carrier(settled: Reconciled) -> str:
    settings = settled.tables.settings
    if settings.dilutions is None:
        return ""
    return settled.carrier(settings.dilutions.carrier, Place(settings.file, column="dilutions.carrier"), Findings())


def _say_unused(settled: Reconciled, bottled: set[str], findings: Findings) -> None:
    """Warn of a composition that no bottle, blend or target row uses: often a misspelt name."""
    wanted = {settled.materials.find(line.name) for line in settled.tables.target} - {None}
    used = _inside([*bottled, *filter(None, wanted), *settled.carrier_materials], settled.parts)
    warned = set()
    for line in settled.tables.compositions:
        material = settled.materials.find(line.material) or line.material
        if material not in used and material not in warned:
            warned.add(material)
            hint = settled.materials.nearest(material, bottled)
            findings.warn(
                "unused-composition",
                f'no bottle holds "{material}".' + did_you_mean(hint),
                line.at.at("material"),
            )
