"""The target as published: names settled, materials opened, area converted to mass."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, field

from reaccord.domain.lines import Reported, TargetLine
from reaccord.domain.settings import Settings
from reaccord.findings import Findings, Place
from reaccord.names.joined import split_joined
from reaccord.names.key import did_you_mean, nearest
from reaccord.names.text import shortened
from reaccord.study.area import response_factor
from reaccord.study.composition import Opener
from reaccord.study.materials import Reconciled
from reaccord.tables.doubts import doubtful_cell


@dataclass
class Entry:
    """One row of the target while it is worked on; shares as published, by sample."""

    members: frozenset[str]
    label: str
    place: Place
    shares: dict[str, Reported | None]
    low: Reported | None = None
    high: Reported | None = None
    weight: float = 1.0
    own: tuple[str, ...] = field(default=())


def entries(settled: Reconciled, opener: Opener, findings: Findings) -> tuple[list[Entry], tuple[str, ...]]:
    """Return the target's rows with names settled, and the samples used."""
    samples = _samples(settled, findings)
    found: list[Entry] = []
    opened: list[tuple[TargetLine, str]] = []
    for line in settled.tables.target:
        material = settled.materials.find(line.name)
        if len(split_joined(line.name)) == 1 and settled.names.find(line.name) is None and material is not None:
            opened.append((line, material))
            continue
        entry = _entry(line, samples, settled, findings)
        _in_one_row_only(entry, found, findings)
        if samples or not doubtful_cell(findings, asked_for(settled.tables.settings)):
            _blank_shares(entry, samples, findings)
        _outside_band(entry, findings)
        found.append(entry)
    area = settled.tables.settings.target.basis == "fid-area"
    for line, material in opened:
        if area:
            text = "a material cannot be a row of area %: its composition is by mass."
            findings.error("area-of-material", text, line.at.at("constituent"))
        _open_material((line, material), samples, found, (settled, opener), findings)
    if area:
        _area_to_mass(found, samples, settled, findings)
    return sorted(found, key=lambda entry: entry.label), samples


def _entry(line: TargetLine, samples: tuple[str, ...], settled: Reconciled, findings: Findings) -> Entry:
    own = tuple(_constituent(part, settled) for part in split_joined(line.name))
    if len(set(own)) < len(own):
        findings.error("duplicate-row", "the same constituent stands twice in this row.", line.at.at("constituent"))
    shares = {sample: line.shares.get(sample) for sample in samples}
    own = tuple(dict.fromkeys(own))
    return Entry(_covered(own, settled), " + ".join(own), line.at, shares, line.low, line.high, line.weight, own)


def _in_one_row_only(entry: Entry, found: list[Entry], findings: Findings) -> None:
    """Say where each constituent stood first, however often it stands again between."""
    said: set[str] = set()
    for other in found:
        twice = sorted((entry.members & other.members) - said)
        said.update(twice)
        if twice:
            findings.error(
                "duplicate-row",
                f"{twice[0]} is in row {other.place.row} ({other.label}) already. If both rows are it, add them "
                "up in one; else name each as what it is.",
                entry.place.at("constituent"),
            )


def _outside_band(entry: Entry, findings: Findings) -> None:
    if entry.low is None and entry.high is None:
        return
    low = entry.low.number if entry.low and not entry.low.mark else 0.0
    high = entry.high.high if entry.high else 1.0
    shares = [share for share in entry.shares.values() if share is not None]
    if shares and high > 0 and all(share.number <= 0 for share in shares):
        text = "not there, and a band in the same row: leave the share blank if the band is meant, else low and high."
        findings.error("band", text, entry.place.at(next(iter(entry.shares))))
        return
    for sample, share in entry.shares.items():
        if share is not None and (share.high < low - 1e-12 or share.number > high + 1e-12):
            text = "this share lies outside the band of its row; the band is what counts."
            findings.warn("outside-band", text, entry.place.at(sample))


def asked_for(settings: Settings) -> Place:
    """Return where a study says which samples it is about."""
    return Place(settings.file, column="target.samples")


def _samples(settled: Reconciled, findings: Findings) -> tuple[str, ...]:
    settings = settled.tables.settings
    there = settled.tables.samples
    for sample in settings.target.samples:
        if sample not in there:
            text = f'{settings.target.table} has no sample column "{shortened(sample)}".'
            text += f" It has: {', '.join(there) or 'none'}." + did_you_mean(nearest(sample, there))
            findings.error("unknown-sample", text, asked_for(settings))
    chosen = settings.target.samples or there
    return tuple(sample for sample in dict.fromkeys(chosen) if sample in there)


def _constituent(text: str, settled: Reconciled) -> str:
    known = settled.names.find(text)
    return known.name if known else text


def _covered(own: Iterable[str], settled: Reconciled) -> frozenset[str]:
    """Return everything a row covers: sums cover their members, all members together their sum."""
    covered: set[str] = set()
    for name in own:
        covered |= settled.names.covers(name)
    for name in sorted(covered):
        for sum_name in settled.names.sums_holding(name):
            if settled.names.covers(sum_name) - {sum_name} <= covered:
                covered.add(sum_name)
    return frozenset(covered)


def _open_material(
    row: tuple[TargetLine, str],
    samples: tuple[str, ...],
    found: list[Entry],
    known: tuple[Reconciled, Opener],
    findings: Findings,
) -> None:
    """Add a material's constituents to the rows; what it does not declare stays unaccounted."""
    line, material = row
    settled, opener = known
    if line.low or line.high:
        text = "a material row takes a share; give bands on constituents."
        findings.error("band-on-material", text, line.at.at("low"))
    for sample in samples:
        if line.shares.get(sample) is None and not doubtful_cell(findings, line.at.at(sample)):
            findings.error("blank", "blank; a share is needed here.", line.at.at(sample))
    carriers = opener.diluting()
    for name, gram in sorted(opener.material(material).typical.items()):
        entry = next((e for e in found if name in e.members), None)
        if entry is None and name in carriers:
            continue
        if entry is None:
            blank: dict[str, Reported | None] = dict.fromkeys(samples, Reported(0.0))
            entry = Entry(_covered((name,), settled), name, line.at, blank, weight=line.weight, own=(name,))
            _in_one_row_only(entry, found, findings)
            found.append(entry)
        elif entry.low or entry.high:
            text = f"{name} has a band in row {entry.place.row} and comes with {material} too; give it a share there."
            findings.error("band-on-material", text, line.at.at("constituent"))
        for sample in samples:
            share, before = line.shares.get(sample), entry.shares[sample]
            if share is not None:
                entry.shares[sample] = Reported((before.number if before else 0.0) + share.number * gram)


def _blank_shares(entry: Entry, samples: tuple[str, ...], findings: Findings) -> None:
    unread = any(doubtful_cell(findings, entry.place.at(cell)) for cell in ("constituent", "low", "high"))
    if entry.low or entry.high or unread:
        return
    if not samples:
        findings.error("blank", "neither a share nor a band.", entry.place.at("constituent"))
    for sample in samples:
        if entry.shares.get(sample) is None and not doubtful_cell(findings, entry.place.at(sample)):
            findings.error("blank", "blank; write a share, tr or nd, or give low and high.", entry.place.at(sample))


def _area_to_mass(found: list[Entry], samples: tuple[str, ...], settled: Reconciled, findings: Findings) -> None:
    """Convert flame-ionisation area percent to mass percent; each sample keeps its sum (model.md).

    A trace stays the trace it is printed as; bands go with the mean of the samples.
    """
    factors = [response_factor(entry.own, entry.place.at("constituent"), settled.names, findings) for entry in found]
    scales: dict[str, float] = {}
    for sample in samples or ("",):
        column = [0.0 if _marked(entry, sample) else typical(entry, sample) for entry in found]
        after = sum(share * factor for share, factor in zip(column, factors, strict=True))
        scales[sample] = sum(column) / after if after > 0 else 1.0
    mean = sum(scales.values()) / len(scales)
    for entry, factor in zip(found, factors, strict=True):
        entry.shares = {sample: _times(share, factor * scales[sample]) for sample, share in entry.shares.items()}
        entry.low = _times(entry.low, factor * mean)
        entry.high = _times(entry.high, factor * mean)


def _marked(entry: Entry, sample: str) -> bool:
    share = entry.shares.get(sample)
    return share is not None and bool(share.mark)


def _times(end: Reported | None, factor: float) -> Reported | None:
    return end if end is None or end.mark else Reported(end.number * factor)


def typical(entry: Entry, sample: str) -> float:
    share = entry.shares.get(sample)
    return share.number if share is not None else middle(entry)


def middle(entry: Entry) -> float:
    """Return the middle of a band; a blank without one is 0 (and an error by then)."""
    if entry.low is None and entry.high is None:
        return 0.0
    low = entry.low.number if entry.low else 0.0
    return (low + (entry.high.high if entry.high else 1.0)) / 2
