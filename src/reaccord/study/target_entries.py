"""The target as published: names settled, materials opened."""

from __future__ import annotations

from collections.abc import Iterable

from reaccord.domain.lines import Reported, TargetLine
from reaccord.domain.settings import Settings
from reaccord.domain.settled import TargetEntry
from reaccord.findings import Findings, Place
from reaccord.names.joined import split_joined
from reaccord.names.key import did_you_mean, nearest
from reaccord.names.text import shortened
from reaccord.study.area import response_factor
from reaccord.study.composition import Opener
from reaccord.study.materials import Reconciled
from reaccord.tables.doubts import doubtful_cell


def entries(settled: Reconciled, opener: Opener, findings: Findings) -> tuple[TargetEntry, ...]:
    """Return the target's rows with names settled, sorted by label."""
    settings, there = settled.tables.settings, settled.tables.samples
    _unknown_samples(settings, there, findings)
    samples = samples_of(settings, there)
    found: list[TargetEntry] = []
    opened: list[tuple[TargetLine, str]] = []
    for line in settled.tables.target:
        material = settled.materials.find(line.name)
        if len(split_joined(line.name)) == 1 and settled.names.find(line.name) is None and material is not None:
            opened.append((line, material))
            continue
        entry = _entry(line, samples, settled, findings)
        _in_one_row_only(entry, found, findings)
        if samples or not doubtful_cell(findings, asked_for(settings)):
            doubt_figures(entry, samples, findings)
        else:
            _outside_band(entry, findings)
        found.append(entry)
    area = settings.target.basis == "fid-area"
    for line, material in opened:
        if area:
            text = "a material cannot be a row of area %: its composition is by mass."
            findings.error("area-of-material", text, line.at.at("constituent"))
        _open_material((line, material), samples, found, (settled, opener), findings)
    if area:
        found = [_with_response(entry, settled, findings) for entry in found]
    return tuple(sorted(found, key=lambda entry: entry.label))


def _with_response(entry: TargetEntry, settled: Reconciled, findings: Findings) -> TargetEntry:
    factor = response_factor(entry.own, entry.place.at("constituent"), settled.names, findings)
    return entry._replace(response=factor)


def _entry(line: TargetLine, samples: tuple[str, ...], settled: Reconciled, findings: Findings) -> TargetEntry:
    own = tuple(_constituent(part, settled) for part in split_joined(line.name))
    if len(set(own)) < len(own):
        findings.error("duplicate-row", "the same constituent stands twice in this row.", line.at.at("constituent"))
    shares = {sample: line.shares.get(sample) for sample in samples}
    own = tuple(dict.fromkeys(own))
    return TargetEntry(_covered(own, settled), " + ".join(own), line.at, shares, line.low, line.high, line.weight, own)


def _in_one_row_only(entry: TargetEntry, found: list[TargetEntry], findings: Findings) -> None:
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


def doubt_figures(entry: TargetEntry, samples: tuple[str, ...], findings: Findings) -> None:
    """Note what is to be said of a row's figures, whoever it is."""
    _blank_shares(entry, samples, findings)
    _outside_band(entry, findings)


def _outside_band(entry: TargetEntry, findings: Findings) -> None:
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


def samples_of(settings: Settings, there: Iterable[str]) -> tuple[str, ...]:
    """Return the samples that a study is about: those asked for, or all there are."""
    there = tuple(there)
    return tuple(sample for sample in dict.fromkeys(settings.target.samples or there) if sample in there)


def _unknown_samples(settings: Settings, there: tuple[str, ...], findings: Findings) -> None:
    for sample in settings.target.samples:
        if sample not in there:
            text = f'{settings.target.table} has no sample column "{shortened(sample)}".'
            text += f" It has: {', '.join(there) or 'none'}." + did_you_mean(nearest(sample, there))
            findings.error("unknown-sample", text, asked_for(settings))


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
    found: list[TargetEntry],
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
    carriers = frozenset().union(*opener.diluting())
    place = {name: number for number, entry in reversed([*enumerate(found)]) for name in entry.members}
    for name, gram in sorted(opener.material(material).typical.items()):
        if name not in place and name in carriers:
            continue
        if name not in place:
            blank: dict[str, Reported | None] = dict.fromkeys(samples, Reported(0.0))
            entry = TargetEntry(_covered((name,), settled), name, line.at, blank, weight=line.weight, own=(name,))
            _in_one_row_only(entry, found, findings)
            place |= {covered: len(found) for covered in sorted(entry.members - place.keys())}
            found.append(entry)
        entry = found[place[name]]
        if entry.low or entry.high:
            text = f"{name} has a band in row {entry.place.row} and comes with {material} too; give it a share there."
            findings.error("band-on-material", text, line.at.at("constituent"))
        found[place[name]] = entry._replace(shares={**entry.shares, **_added(line, entry, samples, gram)})


def _added(line: TargetLine, entry: TargetEntry, samples: tuple[str, ...], gram: float) -> dict[str, Reported]:
    """Return the shares of an entry with what a material brings of it."""
    found = {}
    for sample in samples:
        share, before = line.shares.get(sample), entry.shares[sample]
        if share is not None:
            found[sample] = Reported((before.number if before else 0.0) + share.number * gram)
    return found


def _blank_shares(entry: TargetEntry, samples: tuple[str, ...], findings: Findings) -> None:
    blank = [sample for sample in samples if entry.shares.get(sample) is None]
    if entry.low or entry.high or (samples and not blank):
        return
    if any(doubtful_cell(findings, entry.place.at(cell)) for cell in ("constituent", "low", "high")):
        return
    if not samples:
        findings.error("blank", "neither a share nor a band.", entry.place.at("constituent"))
    for sample in blank:
        if not doubtful_cell(findings, entry.place.at(sample)):
            findings.error("blank", "blank; write a share, tr or nd, or give low and high.", entry.place.at(sample))
