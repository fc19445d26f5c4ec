"""Every name of a study's tables settled, and the parts of its materials with them."""

from __future__ import annotations

from reaccord.domain.constituent import UNDECLARED
from reaccord.domain.lines import BottleLine, CompositionLine, TargetLine
from reaccord.domain.tables import Tables
from reaccord.findings import Findings, Place
from reaccord.names.book import NameBook
from reaccord.names.cas import normalise_cas
from reaccord.names.joined import split_joined
from reaccord.names.key import name_key
from reaccord.names.settle import checked_cas, refused
from reaccord.study.materials import MaterialNames, Reconciled
from reaccord.study.parts import composition_rows, identity, own_name, scale, short_forms
from reaccord.tables.doubts import Doubts, doubtful_section


def reconcile(tables: Tables, findings: Findings) -> Reconciled:
    """Settle every name of the target, the bottles and the compositions."""
    names = NameBook.build(tables.constituents, findings)
    materials = MaterialNames(tables)
    settled = Reconciled(tables, names, materials, unread=_unread(tables, materials, findings))
    lines: tuple[BottleLine | CompositionLine, ...] = (*tables.bottles, *tables.compositions)
    for line in lines:
        refused(line.material, line.at.at("material"), findings)
    _target_names(settled, findings)
    for bottle in tables.bottles:
        if bottle.constituent:
            names.settle(bottle.constituent, bottle.at.at("constituent"), findings)
    for bottle in tables.bottles:  # a constituent of a bottle in a later row is known by now
        settled.carrier(bottle.carrier, bottle.at.at("carrier"), findings)
    _carrier_of_dilutions(settled, findings)
    short_forms(settled, findings)
    composition_rows(settled, findings)
    _warn_both(settled, findings)
    _warn_both_in_target(settled, findings)
    for owner in settled.owners():
        # sums are taken in this order whatever the order of the rows
        settled.parts.get(owner, []).sort(key=identity)
        scale(owner, settled, findings)
    return settled


def _unread(tables: Tables, materials: MaterialNames, findings: Findings) -> frozenset[str]:
    doubts = Doubts(findings)
    compositions, file = tables.settings.shelf.compositions, tables.settings.file
    if not compositions and doubtful_section(findings, file, "shelf"):
        return frozenset(materials.all())
    if compositions and (compositions in tables.unread or doubts.table(compositions)):
        return frozenset(materials.all())
    lines: tuple[BottleLine | CompositionLine, ...] = (*tables.bottles, *tables.compositions)
    return frozenset(materials.find(line.material) or "" for line in lines if doubts.row(line.at))


def _carrier_of_dilutions(settled: Reconciled, findings: Findings) -> None:
    settings = settled.tables.settings
    if settings.dilutions:
        settled.carrier(settings.dilutions.carrier, Place(settings.file, column="dilutions.carrier"), findings)


def _target_names(settled: Reconciled, findings: Findings) -> None:
    names = settled.names
    in_bottles = {name_key(bottle.constituent) for bottle in settled.tables.bottles if bottle.constituent}
    for target in settled.tables.target:
        place = target.at.at("constituent")
        pieces = split_joined(target.name)
        several = len(pieces) > 1
        known = names.find(target.name) is not None or name_key(target.name) in in_bottles
        if not several and not known and _is_material(target, settled, findings):
            continue
        loose = [piece.strip() for piece in target.name.split("+") if piece.strip()]
        whole = all(piece.count("(") == piece.count(")") for piece in loose)  # a plus inside brackets joins nothing
        if not several and not known and whole and any(map(names.find, loose)):
            joined = " + ".join(loose)
            findings.error("joined", f'several in one row are joined with blanks round the plus: "{joined}".', place)
            continue
        if several and target.cas:
            at = target.at.at("cas")
            findings.warn("cas-of-several", "one CAS number beside several constituents; not read.", at)
        if several and _material_among(pieces, place, settled, findings):
            continue
        for name in pieces:
            names.settle(name, place, findings, cas="" if several else target.cas)


def _is_material(target: TargetLine, settled: Reconciled, findings: Findings) -> bool:
    """Whether a row that is called like a material is that material, its CAS number notwithstanding.

    One of a single chemical with that chemical's CAS number is the chemical; with another's it is an error.
    """
    material = settled.materials.find(target.name)
    if material is None:
        return False
    at = target.at.at("cas")
    number = checked_cas(target.cas, at, findings)
    meant = settled.names.find(number) if number else None
    inside = [
        b.constituent for b in settled.tables.bottles if b.constituent and name_key(b.material) == name_key(material)
    ]
    if number and (number in map(normalise_cas, inside) or (meant and meant in map(settled.names.find, inside))):
        return False
    if meant is None:
        return True
    text = f'"{target.name}" is a material, but {number} is "{meant.name}". Take out the CAS number, or name that.'
    findings.error("name-cas-disagree", text, at)
    return True


def _material_among(names: tuple[str, ...], place: Place, settled: Reconciled, findings: Findings) -> bool:
    """Whether one of several in a row is a material, which is an error."""
    for name in names:
        material = settled.materials.find(name)
        if material is not None and settled.names.find(name) is None:
            text = f'"{material}" is a material: only constituents are joined in a row. Give it a row of its own.'
            findings.error("joined", text, place)
            return True
    return False


def _warn_both(settled: Reconciled, findings: Findings) -> None:
    """Say where a part was taken as a constituent though a material has its name too.

    In an analysis a bottle of that very constituent cannot have been meant, so nothing is said (`check` lists them).
    A blend of materials may have meant the bottle, and so may one whose parts all stand on the shelf by their names.
    """
    warned: set[str] = set()
    recipes = _recipes(settled)
    for line in settled.tables.compositions:
        both = settled.materials.find(line.part)
        known = settled.constituent(line.part)
        if line.part_kind or both is None or known is None or known.name in warned or own_name(line):
            continue
        as_said = known.name in settled.stands_for(both) and name_key(line.material) not in recipes
        if line.diluted or as_said:
            continue
        warned.add(known.name)
        findings.warn(
            "constituent-or-material",
            f'"{line.part}" is a constituent and a material; taken as the constituent, pure. Say which in part_kind.',
            line.at.at("part"),
        )


def _warn_both_in_target(settled: Reconciled, findings: Findings) -> None:
    """Say where a target row was taken as a constituent though a material has its name too.

    In an analysis a bottle of that very constituent cannot have been meant; in a formula of materials it may.
    """
    lines = [line for line in settled.tables.target if len(split_joined(line.name)) == 1]
    formula = any(settled.names.find(line.name) is None for line in lines)
    for line in lines:
        both, known = settled.materials.find(line.name), settled.names.find(line.name)
        if both is None or known is None or settled.is_pure(both):
            continue
        inside = {part.name for part in settled.parts.get(both, []) if part.kind != UNDECLARED}
        if formula or not inside <= settled.names.covers(known.name):
            findings.warn(
                "constituent-or-material",
                f'"{line.name}" is a constituent and a material; taken as the constituent, pure. If the bottle is '
                "meant, give it a name of its own.",
                line.at.at("constituent"),
            )


def _recipes(settled: Reconciled) -> set[str]:
    """Return, by key, what may have been mixed from bottles: a part is a material, or all bear the name of one."""
    named: dict[str, list[str | None]] = {}
    for line in settled.tables.compositions:
        if name_key(line.part) != UNDECLARED:
            named.setdefault(name_key(line.material), []).append(settled.materials.find(line.part))
    found = set()
    for key, bottles in named.items():
        parts = settled.parts.get(settled.materials.find(key) or key, [])
        mixed = len(bottles) > 1 and all(bottles) and not all(settled.is_pure(bottle or "") for bottle in bottles)
        if mixed or any(part.kind == "material" for part in parts):
            found.add(key)
    return found
