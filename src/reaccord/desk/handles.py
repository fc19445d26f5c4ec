"""What can be moved on the desk: the handles of a study.

A handle is known by its name, a list in JSON: a key of the study file, or a kind of thing and what tells it from
others. A study read again has the handles of the same names.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterator, Mapping

from reaccord.desk.handle import OFF, ON, Group, Handle, Shape, name_of, percent_of, text_of
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.lines import TargetLine
from reaccord.domain.settings import AmountSettings
from reaccord.domain.settled import TargetEntry
from reaccord.domain.stock import StockKey
from reaccord.domain.study import Study
from reaccord.names.key import name_key
from reaccord.study import changed
from reaccord.study.rules import products
from reaccord.tables.cells import BadCell
from reaccord.tables.columns import LARGEST
from reaccord.tables.study_key import Key
from reaccord.tables.studyfile import AMOUNT, SECTIONS
from reaccord.tables.typed import typed_in

OVERRULED = ("", "excluded", "past its date")
"""Why a bottle is set aside, where that can be overruled."""
ENDS = ("at_least_g", "at_most_g")
"""Of what a named amount says."""


def handle_of(study: Study, name: str) -> Handle | None:
    """Return the handle of that name; a rule that is not in force for the study's product can be moved all the same."""
    try:
        kind, *about = map(str, json.loads(name))
    except (ValueError, TypeError):
        return None
    if kind == "rule":
        key = LimitKey("restricted", tuple(about))
        label = next((claim.label for claim in study.claims() if claim.key == key), "".join(about[:1]))
        return _of_rule(label, key) if len(about) > 2 else None
    if (kind, *about[:1]) in {key[:2] for key in KEYS}:
        return _of_key(study, kind, about[0])
    made: dict[str, Callable[[], Iterator[Handle]]] = {
        "bottle": lambda: _bottles(study, tuple(about)),
        **dict.fromkeys(ENDS, lambda: (_of_amount(m, kind) for m in _materials(study) if [m] == about)),
        "weight": lambda: _rows(study, about[0]),
        "sample": lambda: _samples(study),
    }
    return next((handle for handle in made[kind]() if handle.name == name), None) if kind in made and about else None


def handles(study: Study) -> tuple[Handle, ...]:
    """Return every handle of a study, in the order they are shown."""
    found = [handle for section, key, *_ in KEYS if (handle := _of_key(study, section, key)) is not None]
    rules = [_of_rule(claim.label, claim.key) for claim in study.claims()]
    return (*found, *rules, *_bottles(study), *_rows(study), *_samples(study))


KEYS: tuple[tuple[str, str, Group, str], ...] = (
    ("limits", "cost_per_kg", "limits", "Cost at most"),
    ("limits", "lines", "limits", "Lines at most"),
    ("dilutions", "most", "limits", "Dilutions to make at most"),
    ("limits", "undeclared", "limits", "Undeclared at most"),
    ("batch", "carrier_max_g", "limits", "Carrier at most"),
    ("batch", "accord_g", "batch", "Batch"),
    ("balance", "minimum_g", "batch", "Smallest mass"),
    ("limits", "product", "batch", "Finished product"),
    ("limits", "dosage", "batch", "Dosage: accord in it"),
    ("fit", "measure", "closeness", "Measure"),
    ("fit", "scale", "closeness", "Scale"),
    ("fit", "shorten", "closeness", "Given up for fewer lines at most"),
)
"""Section, key, where it is shown, and what it is called."""
UNITS = {"cost_per_kg": "per kg of accord", "accord_g": "g", "carrier_max_g": "g", "minimum_g": "g"}


def _of_key(study: Study, section: str, key: str) -> Handle | None:
    """Return the handle of a key of the study file; None where its section, or what it is about, is not there."""
    if getattr(study.settings, section) is None:
        return None
    group, label = next((group, label) for s, k, group, label in KEYS if (s, k) == (section, key))
    spec = SECTIONS[section][key]
    choices = spec.choices
    if key in {"product", "dosage"}:
        named = products(study.settled.rules)
        if not named:
            return None
        choices = named if key == "product" else ()
        spec = spec._replace(takes="choice", choices=named) if choices else spec._replace(required=True)
    shape: Shape = "choice" if choices else spec.takes  # type: ignore[assignment]
    shown = percent_of if spec.takes == "share" else text_of
    return Handle(
        name_of(section, key),
        group,
        label,
        shape,
        lambda text: typed_in(text, spec),
        lambda at: _chosen(shown(getattr(getattr(at.settings, section), key)), choices),
        lambda at, value: changed.with_keys(at, section, **{key: value}),
        UNITS.get(key, ""),
        choices,
    )


def _chosen(said: str, choices: tuple[str, ...]) -> str:
    """Return a choice as the table spells it."""
    return next((choice for choice in choices if choice.lower() == said.lower()), said)


def _of_rule(label: str, key: LimitKey) -> Handle:
    spec, ratio = Key("share", "the rule's maximum", True, least=0, most=1.0), key.subject[1] == "ratio"
    if ratio:
        spec = Key("number", "what the shares over their limits may add up to", True, above=0, most=LARGEST)

    def put(at: Study, most: object) -> Study:
        assert isinstance(most, float)
        return changed.with_rule(at, key, most / _stretch(at, key) if ratio else most)

    return Handle(
        name_of("rule", *key.subject),
        "rules",
        label,
        "number" if ratio else "share",
        lambda text: typed_in(text, spec),
        lambda at: text_of(_stretch(at, key)) if ratio else percent_of(_maximum(at, key)),
        put,
        "of 1" if ratio else "",
    )


def _maximum(study: Study, key: LimitKey) -> float | None:
    return next((claim.most for claim in study.claims() if claim.key == key), None)


def _stretch(study: Study, key: LimitKey) -> float:
    """Return by how much the limits of a ratio stand above those of its table."""
    for entry in study.settled.rules:
        if entry.line.kind == "ratio" and name_key(entry.line.rule) == name_key(key.subject[0]):
            for member in entry.members:
                if member.name in key.subject[3:] and entry.line.most:
                    return float(f"{member.most / entry.line.most:.9g}")
    return 1.0


def _materials(study: Study) -> dict[str, None]:
    return dict.fromkeys(bottle.key.material for bottle in study.settled.bottles)


def _bottles(study: Study, subject: tuple[str, ...] = ()) -> Iterator[Handle]:
    """Yield of each bottle whether it may be poured, and of each material how much; `subject`: of one bottle alone."""
    aside, materials = {item.stock.key: item.reason for item in study.set_aside}, _materials(study)
    for bottle in study.settled.bottles:
        key = bottle.key
        if subject in {(), key.subject}:
            yield _of_bottle(key, aside.get(key, ""))
        if not subject and key.material in materials:
            del materials[key.material]
            for end in ENDS:
                yield _of_amount(key.material, end)


def _of_bottle(key: StockKey, why: str) -> Handle:
    return Handle(
        name_of("bottle", *key.subject),
        "bottles",
        key.label,
        "switch",
        _switched,
        lambda at: ON if at.stock(key) is not None else OFF,
        lambda at, on: (changed.with_bottle_available if on else changed.without_bottle)(at, key),
        cannot="" if why in OVERRULED else why,
    )


def _switched(text: str) -> bool:
    if text not in {ON, OFF}:
        raise BadCell(f'"{text}" is neither {ON} nor {OFF}.')
    return text == ON


def _of_amount(material: str, end: str) -> Handle:
    return Handle(
        name_of(end, material),
        "bottles",
        f"{material}, {'at least' if end == 'at_least_g' else 'at most'}",
        "number",
        lambda text: typed_in(text, AMOUNT[end]),
        lambda at: text_of(_ends(at, material)[end]),
        lambda at, grams: changed.with_amount(at, material, **{**_ends(at, material), end: grams}),  # type: ignore[arg-type]
        "g undiluted",
    )


def _ends(study: Study, material: str) -> Mapping[str, float | None]:
    """Return least and most of a material; an exact amount is both."""
    asked = study.settings.limits.amounts
    mine = next((one for one in asked if name_key(one.material) == name_key(material)), AmountSettings(material))
    if mine.exactly_g is not None:
        return {"at_least_g": mine.exactly_g, "at_most_g": mine.exactly_g}
    return {"at_least_g": mine.at_least_g, "at_most_g": mine.at_most_g}


def _entries(study: Study, name: str) -> list[TargetEntry]:
    """Return the entries of a row of the target's table: several where it is a material, opened."""
    at = {line.at for line in study.tables.target if line.name == name}
    return [entry for entry in study.settled.target if entry.place in at]


def _rows(study: Study, name: str | None = None) -> Iterator[Handle]:
    """Yield the weight of each row of the target's table; of one of that name alone."""
    for line in study.tables.target:
        if name in {None, line.name} and _entries(study, line.name):
            yield _of_row(line)


def _of_row(line: TargetLine) -> Handle:
    spec = Key("number", "a weight", True, least=0, most=1e6)

    def put(study: Study, weight: object) -> Study:
        for entry in _entries(study, line.name):
            study = changed.with_weight(study, entry.label, weight)  # type: ignore[arg-type]
        return study

    return Handle(
        name_of("weight", line.name),
        "rows",
        line.name,
        "number",
        lambda text: typed_in(text, spec),
        lambda at: text_of(_entries(at, line.name)[0].weight),
        put,
    )


def _samples(study: Study) -> Iterator[Handle]:
    """Yield the sample columns that were read, where there are several to choose from."""
    read = {sample for entry in study.settled.target for sample in entry.shares}
    offered = tuple(sample for sample in study.tables.samples if sample in read)
    if len(offered) < 2:
        return

    def chosen(at: Study) -> tuple[str, ...]:
        return at.settings.target.samples or at.tables.samples

    def put(at: Study, sample: str, on: object) -> Study:
        kept = tuple(each for each in offered if (on if each == sample else each in chosen(at)))
        if not kept:
            raise BadCell("one sample at least is needed.")
        return changed.with_samples(at, kept)

    for sample in offered:
        yield Handle(
            name_of("sample", sample),
            "samples",
            sample,
            "switch",
            _switched,
            lambda at, sample=sample: ON if sample in chosen(at) else OFF,  # type: ignore[misc]
            lambda at, on, sample=sample: put(at, sample, on),  # type: ignore[misc]
        )
