"""Results as plain data: what `--output json` prints. Shares are fractions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import TYPE_CHECKING, Any

from reaccord.answer.formula import formula_rows
from reaccord.answer.judge import Judgement, empty_vial
from reaccord.answer.why.reason import Reason, sentence
from reaccord.domain.limit_key import LimitKey
from reaccord.domain.study import Study
from reaccord.report.notes import Note, note_rows, notes, notes_on
from reaccord.solvers.versions import versions

if TYPE_CHECKING:
    from reaccord.answer.fitted import Fit

Row = dict[str, Any]


def residual_rows(judged: Judgement, reasons: Mapping[str, Reason]) -> list[Row]:
    """Return every row with what it should be, what it is, and why it is off."""
    return [
        {
            "constituent": r.row.label,
            "kind": r.kind,
            "target": r.row.share,
            "low": r.row.low if r.row.band else None,
            "high": r.row.high if r.row.band else None,
            "achieved": r.achieved,
            "residual": r.residual,
            "scaled": r.scaled,
            "reason": sentence(reasons, r.row.label) or None,
            "sources": [{"material": material, "share": share} for material, share in r.sources],
        }
        for r in judged.residuals
    ]


def why_rows(judged: Judgement, reasons: Mapping[str, Reason]) -> list[Row]:
    """Return the reasons in the order of the rows: constituent, code, sentence, and what moving it gains (fraction)."""
    return [vars(reasons[r.row.label]).copy() for r in judged.residuals if r.row.label in reasons]


def key_data(key: LimitKey) -> Row:
    """Return what tells a limit from others, whatever its label."""
    return {"kind": key.kind, "subject": list(key.subject)}


def limit_rows(judged: Judgement, holding: Mapping[LimitKey, bool] | None = None) -> list[Row]:
    """Return the limits and where the formula stands; `holding`: whether each holds it back, where that is known."""
    known = holding or {}
    return [
        {
            "label": s.label,
            **key_data(s.key),
            "value": s.value,
            "limit": s.limit,
            "sense": s.sense,
            "unit": s.unit,
            "binding": s.binding,
            "holds_back": known.get(s.key),
            "held": s.held,
        }
        for s in judged.limits
    ]


def judgement_data(
    study: Study, judged: Judgement, reasons: Mapping[str, Reason], holding: Mapping[LimitKey, bool] | None = None
) -> Row:
    """Return what `fit` and `compare` have in common."""
    fit = study.settings.fit
    constituent, residual = judged.closeness.largest
    return {
        **about(study),
        "formula": formula_rows(judged),
        "target": target_row(study),
        "totals": vars(judged.totals).copy(),
        "deviation": {
            "measure": fit.measure,
            "scale": fit.scale,
            "value": judged.closeness.value,
            "misplaced_share": judged.closeness.misplaced_share,
            "coverage": judged.closeness.coverage,
            "largest": {"constituent": constituent, "residual": residual},
            "empty_vial": empty_vial(study),
        },
        "notes": note_rows(notes(study, judged)),
        "residuals": residual_rows(judged, reasons),
        "why": why_rows(judged, reasons),
        "limits": limit_rows(judged, holding),
        **grounds(study),
    }


def target_row(study: Study) -> Row:
    """Return what the target was made from."""
    target = study.target
    return {
        "samples": list(target.samples),
        "rest": target.rest,
        "published_sum": target.published_sum,
        "unaccounted": target.unaccounted,
    }


def fit_data(fit: Fit, noted: Sequence[Note] | None = None) -> Row:
    """Return `fit`'s data; `noted` are the notes on it, where they are at hand."""
    data = judgement_data(fit.study, fit.judged, fit.reasons, fit.holding)
    data["notes"] = note_rows(notes_on(fit) if noted is None else noted)
    data["deviation"] |= {
        "before_rounding": fit.judged_before.closeness.value,
        "bound": fit.bound,
        "gap": fit.gap,
        "rounded_bound": fit.rounded_bound,
        "steps_proven": fit.steps_proven,
        "shortened": shortened_row(fit),
    }
    data["solver"] = {
        "name": fit.answer.solver,
        "version": versions(fit.answer.libraries),
        "seconds": fit.answer.seconds,
        "nodes": fit.answer.nodes,
    }
    return data


def shortened_row(fit: Fit) -> Row | None:
    """Return what the shorter formula gives up, before rounding; None where the closest is poured."""
    if fit.shorter is None:
        return None
    closest = fit.judged_before
    return {
        "allowed": fit.study.settings.fit.shorten,
        "value": fit.shorter.closeness.value,
        "lines": len(fit.shorter.lines),
        "closest": {"value": closest.closeness.value, "lines": len(closest.lines)},
    }


def printed_row(printed: Fit | None) -> Row | None:
    """Return what `fit` prints of a study: shorter than its closest formula, where `fit.shorten` lets it be."""
    if printed is None:
        return None
    closeness = printed.judged.closeness
    return {
        "value": closeness.value,
        "misplaced_share": closeness.misplaced_share,
        "lines": len(printed.judged.lines),
    }


def about(study: Study) -> Row:
    """Return whose result it is."""
    return {"title": study.title, "date": study.date.isoformat()}


def grounds(study: Study) -> Row:
    """Return what a result rests on: rules, cautions, the files it was read from."""
    return {"rules": rule_rows(study), "cautions": cautions(study), "inputs": input_rows(study)}


def input_rows(study: Study) -> list[Row]:
    """Return the files a study was read from."""
    return [vars(item).copy() for item in study.inputs]


def rule_rows(study: Study) -> list[Row]:
    """Return who set the rules in force, in which edition of which date."""
    found = [
        {
            "rule": rule.label,
            "product": study.settings.limits.product,
            "authority": rule.authority,
            "edition": rule.edition,
            "date": rule.date,
        }
        for rule in study.rules
    ]
    return [row for number, row in enumerate(found) if row not in found[:number]]


CAUTION_WORDS = {
    "skin": "Some of these substances irritate or sensitise skin: gloves, and wash off what is spilt.",
    "light": "Some of these substances harm skin in sunlight.",
    "flame": "Flammable: keep away from flame while weighing; a candle needs a test burn under watch.",
    "swallow": "Harmful if swallowed: keep away from children.",
    "pets": "Keep away from pets; some oils harm cats and dogs even in the air of a room.",
}
GENERAL_CAUTION = (
    "Calculated, not analysed; the certificate of the actual lot prevails. No safety assessment: limits carry "
    "an authority, an edition and a date and can be out of date. Local law and a qualified assessor decide."
)


def cautions(study: Study) -> list[str]:
    """Return the cautions that every result on restricted substances shows (common practice, no source)."""
    if not study.rules:
        return []
    named = {caution for rule in study.rules for caution in rule.cautions}
    known = [text for word, text in CAUTION_WORDS.items() if word in named]
    return [GENERAL_CAUTION, *known]
