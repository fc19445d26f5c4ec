"""A blind test as plain data and as text: the serving sheet, which tells nobody what is in a vial, and the verdict."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from reaccord.balance.discrimination import SERVED, SHARES, Rule
from reaccord.balance.equal_strength import Vial, solvent_of
from reaccord.balance.serving import ORDERS, Scored, Served
from reaccord.domain.study import Study
from reaccord.report.csv_table import Columns, csv_text
from reaccord.report.data import about, input_rows
from reaccord.report.layout import Column, aligned, counted, headed, paragraph, paragraphs
from reaccord.report.quantities import decimals_of_balance, percent

PLACES = ("first", "second", "third")
SHEET: Columns = dict.fromkeys(("assessor", *PLACES, "answer", "note"), str)
KEY: Columns = dict.fromkeys(("assessor", "position", "code", "sample"), str)
VERDICT: Columns = {
    **dict.fromkeys(("test", "n", "correct"), str),
    "probability": "{:.6g}".format,
    "critical": str,
    "proven": lambda proven: "yes" if proven else "no",
    "detectable": "{:.6g}".format,
}
ASKED = {
    "triangle": "Two of the three vials hold the same: each assessor names the odd one, and guesses if in doubt.",
    "paired": "Ask all of them the same (which is fresher?): each names one of the two, and guesses if in doubt.",
}


@dataclass(frozen=True)
class Prepared:
    """A blind test ready to be served; what each vial holds stands in the key alone.

    `filled` says what goes into a vial of each sample, where that is known.
    """

    study: Study
    rule: Rule
    samples: tuple[str, str]
    vials: tuple[Served, ...]
    key: Path
    filled: tuple[Vial, ...] = ()


def key_csv(vials: Sequence[Served]) -> str:
    """Return the key: who fills the vials needs it, who smells must not see it."""
    rows = [
        {"assessor": each.assessor, "position": place + 1, "code": code, "sample": sample}
        for each in vials
        for place, (code, sample) in enumerate(zip(each.codes, each.samples, strict=True))
    ]
    return csv_text(KEY, rows)


def sheet_data(found: Prepared) -> dict[str, Any]:
    """Return `blind`'s data before the test: codes and who is served them in which order, not what they hold."""
    n = len(found.vials)
    return {
        **about(found.study),
        "test": found.rule.test,
        "samples": list(found.samples),
        "codes": sorted(code for each in found.vials for code in each.codes),
        "orders": [{"assessor": each.assessor, "codes": list(each.codes)} for each in found.vials],
        "key_file": str(found.key),
        "equal_strength": [vars(vial) for vial in found.filled],
        **_planned(found.rule, n),
        "inputs": input_rows(found.study),
    }


def sheet_csv(found: Prepared) -> str:
    """Return the sheet to fill in; it reads back as `--answers`."""
    return csv_text(SHEET, [_sheet_row(each) for each in found.vials])


def sheet_text(found: Prepared, width: int) -> str:
    """Return the serving sheet."""
    n, rule = len(found.vials), found.rule
    places = PLACES[: SERVED[rule.test]]
    columns = (Column("Assessor", wraps=True), *(Column(place) for place in places), Column("answer"))
    rows = [(each.assessor, *each.codes, "_____") for each in found.vials]
    critical = rule.critical(n)
    proves = (
        f"no number of right answers proves anything; take more than {n}"
        if critical is None
        else f"{critical} {'of one sample' if rule.two_sided else 'right'} prove a difference"
    )
    verdict = f"{_called(rule)} of {' and '.join(found.samples)}, {counted(n, 'assessor')}: {proves}."
    notes = [ASKED[rule.test], f"What is in which vial stands in {found.key} alone: nobody who smells may see it."]
    if n % len(ORDERS[rule.test]):
        more = -(-n // len(ORDERS[rule.test])) * len(ORDERS[rule.test])
        notes.append(f"With {more} assessors every order of serving would come up equally often.")
    if not found.filled:
        notes.append("Serve both samples at one strength; --formula, of one or of each, says what to pour for it.")
    parts = [headed(found.study.title, verdict, width), aligned(columns, rows, width), paragraphs(notes, width)]
    parts += [_fill(found, width)] if found.filled else []
    return "\n\n".join([*parts, paragraph(_reach(rule, n), width)]) + "\n"


def _fill(found: Prepared, width: int) -> str:
    """Return what to pour for a vial of each sample, and how many vials there are of it."""
    decimals = decimals_of_balance(found.study)
    columns = (
        Column("Fill", wraps=True),
        *(Column(heading, right=True) for heading in ("vials", "sample g", "solvent g", "strength")),
    )
    number = Counter(sample for each in found.vials for sample in each.samples)
    rows = [
        (
            vial.sample,
            str(number[vial.sample]),
            f"{vial.sample_g:.{decimals}f}",
            f"{vial.solvent_g:.{decimals}f}",
            percent(vial.strength, 2),
        )
        for vial in found.filled
    ]
    said = f"Gram in each vial, less in proportion. Solvent: {solvent_of(found.study)}. Equal strength: the carrier "
    return f"{aligned(columns, rows, width)}\n{paragraph(said + 'already inside is counted.', width)}"


def verdict_data(study: Study, found: Scored) -> dict[str, Any]:
    """Return `blind`'s data after the test."""
    return {
        **about(study),
        "test": found.rule.test,
        "n": found.n,
        "correct": found.right,
        "chosen": dict(found.chosen),
        "expected": found.expected or None,
        "two_sided": found.rule.two_sided,
        "probability": found.probability,
        "proven": found.proven,
        "at_most_discriminators": None
        if found.rule.two_sided
        else found.rule.most_discriminators(found.right, found.n),
        **_planned(found.rule, found.n),
        "inputs": input_rows(study),
    }


def verdict_csv(study: Study, found: Scored) -> str:
    """Return the verdict as one row."""
    return csv_text(VERDICT, [verdict_data(study, found)])


def verdict_text(study: Study, found: Scored, width: int) -> str:
    """Return the verdict for people."""
    rule, n = found.rule, found.n
    critical = rule.critical(n)
    said = "a difference is proven" if found.proven else "no difference is proven, which is not the same as none"
    verdict = f"{_counted_right(found)}; {said}."
    needed = "no number would have" if critical is None else f"{critical} would have"
    lines = [
        f"By luck alone so many or more come up in {found.probability * 100:.3g} % of tests; {needed} proven it at "
        f"{rule.level * 100:g} %."
    ]
    if not found.proven:
        lines.append(_not_proven(found))
    return (
        "\n\n".join([headed(study.title, verdict, width), paragraphs(lines, width), paragraph(_reach(rule, n), width)])
        + "\n"
    )


def _not_proven(found: Scored) -> str:
    """Say what answers that prove nothing still allow."""
    rule = found.rule
    if rule.two_sided:
        return "Neither sample was chosen so often that luck is ruled out."
    most = rule.most_discriminators(found.right, found.n)
    if most > 0:
        sure = f"{(1 - rule.level) * 100:g} % confidence"
        return f"These answers agree with up to {most * 100:.0f} % of people telling the samples apart ({sure})."
    if found.expected:
        return (
            f"{found.expected} was chosen less often than guessing gives: against what was expected. A test that "
            "expects a winner proves nothing of that; plan the next one without --expected."
        )
    return "That is fewer than guessing gives: look whether vials or codes were exchanged before believing it."


def _counted_right(found: Scored) -> str:
    if found.rule.test == "triangle":
        return f"{found.right} of {found.n} found the odd vial"
    counts = ", ".join(f"{sample} {count}" for sample, count in found.chosen.items())
    return f"{found.n} chose: {counts}"


def _called(rule: Rule) -> str:
    return "triangle test" if rule.test == "triangle" else "paired comparison"


def _planned(rule: Rule, n: int) -> dict[str, Any]:
    orders = len(ORDERS[rule.test])
    return {
        "level": rule.level,
        "power": 1 - rule.miss,
        "critical": rule.critical(n),
        "detectable": rule.detectable(n),
        "needed": [{"discriminators": share, "assessors": rule.needed(share, orders)} for share in SHARES],
    }


def _reach(rule: Rule, n: int) -> str:
    """Say what so many assessors can find, and how many smaller differences take."""
    least = rule.detectable(n)
    power = f"{(1 - rule.miss) * 100:g} times out of 100"
    orders = len(ORDERS[rule.test])
    needed = [(share, rule.needed(share, orders)) for share in SHARES]
    told = [f"{share * 100:g} % can tell: {number}" for share, number in needed if number is not None]
    takes = "; ".join(told)
    can = (
        f"{counted(n, 'assessor')} can prove nothing"
        if least is None
        else f"{counted(n, 'assessor')} would find, {power}, a difference that {least * 100:.0f} % of people can tell"
    )
    return f"{can}. Assessors it takes, in whole rounds of serving orders, if {takes}."


def _sheet_row(each: Served) -> dict[str, Any]:
    blank = dict.fromkeys((*PLACES, "answer", "note"))
    return {"assessor": each.assessor, **blank, **dict(zip(PLACES, each.codes, strict=False))}
