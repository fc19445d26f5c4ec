"""The desk as HTML: the whole page, and the pieces of it that are put in place again when an answer comes."""

from __future__ import annotations

from collections.abc import Collection, Iterable
from dataclasses import dataclass
from typing import Any

from reaccord import __version__
from reaccord.answer.judge import judge
from reaccord.desk.beside import beside_cells
from reaccord.desk.fields import fields, groups
from reaccord.desk.handle import OFF, name_of
from reaccord.desk.saving import Asked, Done
from reaccord.desk.session import Session, Tried
from reaccord.desk.shown import shown_of
from reaccord.domain.stock import Stock
from reaccord.findings import Finding
from reaccord.report.curve_picture import HEIGHT, LEFT
from reaccord.report.curve_picture import WIDTH as CURVE_WIDTH
from reaccord.report.data import cautions
from reaccord.report.layout import counted
from reaccord.report.off_picture import WIDTH, Scale
from reaccord.report.pages import page, part
from reaccord.report.quantities import decimals_of_balance, percent
from reaccord.report.result_page import Shown, folded_text, limit_cells, off_rows, pour_rows, pour_total
from reaccord.report.terminal import rest_text, rules_text

PRODUCT = name_of("limits", "product")
ROOM = "reaccord.desk"
PARTS = "desk_parts.html"
ANSWER = ("pour", "off-part", "limits", "from", "figures")
"""Pieces that say nothing until there is a formula."""


@dataclass(frozen=True)
class Notice:
    """Something to be known beside the answer, and a button with it (where it leads, what it says)."""

    text: str
    button: tuple[str, str] | None = None


def whole_page(session: Session, nonce: str, notices: Iterable[Notice], files: Iterable[dict[str, str]]) -> str:
    """Return the page of a tab."""
    return page(
        "desk.html",
        ROOM,
        nonce=nonce,
        title=session.base.title or "Untitled study",
        groups=groups(session),
        parts=parts(session, notices),
        steps=steps(session),
        searching=not session.proven,
        files=list(files),
        version=__version__,
        cautions=cautions(session.study),
        rules=rules_text(session.study),
    )


def findings_page(title: str, findings: Iterable[Finding], reading: int, nonce: str) -> str:
    """Return the page of a study that cannot be read: every finding where it stands, with its cure."""
    return page("desk_findings.html", ROOM, title=title, findings=_said(findings), reading=reading, nonce=nonce)


def _said(findings: Iterable[Finding]) -> list[dict[str, str]]:
    return [{"where": str(finding.place), "says": finding.message} for finding in findings]


def alone_page(title: str, html: str, nonce: str) -> str:
    """Return a piece as a page of its own, for a browser without script."""
    return page("desk_alone.html", ROOM, title=title, html=html, nonce=nonce)


def saved_part(done: Done, asked: Asked) -> str:
    """Return what came of saving."""
    return part(PARTS, "saved", ROOM, done.text, list(done.again), asked.what, asked.file)


def standing(session: Session, names: Collection[str], notices: Iterable[Notice]) -> dict[str, Any]:
    """Return what a page is told after a move: handles that may say something else, and where it can go on.

    For another product other rules are in force: all handles are shown anew.
    """
    told: dict[str, Any] = {"fields": fields(session, names), **steps(session)}
    told["parts"] = notices_part(notices) | verdict_part(session)
    if PRODUCT in names:
        told["parts"]["groups"] = part(PARTS, "groups", ROOM, groups(session))
    return told


def all_parts(session: Session, notices: Iterable[Notice]) -> dict[str, str]:
    """Return every piece, the handles among them."""
    return parts(session, notices) | {"groups": part(PARTS, "groups", ROOM, groups(session))}


def steps(session: Session) -> dict[str, bool]:
    """Return which steps can be taken among the settings."""
    forth = session.here + 1 < len(session.path)
    return {"undo": session.here > 0, "redo": forth, "start": bool(session.setting.moves)}


def parts(session: Session, notices: Iterable[Notice]) -> dict[str, str]:
    """Return the pieces that change with the answer, by where they stand on the page."""
    remarks = session.study.warnings
    found = {
        **notices_part(notices),
        "remarks": part(PARTS, "remarks", ROOM, f"{counted(len(remarks), 'remark')} about the tables", _said(remarks)),
        **verdict_part(session),
        "helps": part(PARTS, "helps", ROOM, session.helping, *_now(session)),
        "tried": part(PARTS, "tried", ROOM, _tried(session)),
        "curve": _curve(session),
    }
    shown = shown_of(session)
    return found | (dict.fromkeys(ANSWER, "") if shown is None else _answer_parts(shown))


def notices_part(notices: Iterable[Notice]) -> dict[str, str]:
    """Return what is to be known beside the answer."""
    return {"notices": part(PARTS, "notices", ROOM, list(notices))}


def verdict_part(session: Session) -> dict[str, str]:
    """Return the sentence at the top of the page."""
    return {"verdict": part(PARTS, "verdict", ROOM, *_verdict(session))}


def _answer_parts(shown: Shown) -> dict[str, str]:
    study, judged = shown.study, shown.judged
    pour = pour_rows(study, judged)
    for row, line in zip(pour, judged.lines, strict=True):
        row["leave"] = _leave(line.stock)
    rows, rest = off_rows(shown), [*rest_text(study, judged), *shown.shorter]
    folded = folded_text(rows, study.settings.fit.measure)
    total = pour_total(judged, decimals_of_balance(study))
    return {
        "pour": part(PARTS, "pour_part", ROOM, pour, total),
        "off-part": part(PARTS, "off_part", ROOM, rows, Scale(judged.residuals), WIDTH, folded, rest),
        "limits": part(PARTS, "limits_part", ROOM, limit_cells(shown)),
        "from": part(PARTS, "from_part", ROOM, rows),
        "figures": part(PARTS, "figures", ROOM, shown.figures),
    }


def _leave(stock: Stock) -> str:
    return "" if stock.recipe is not None else f"{OFF} {name_of('bottle', *stock.key.subject)}"


def _verdict(session: Session) -> tuple[str, str, bool]:
    """Return the sentence, the word for how sure it is, and whether it is searched for still."""
    answer, none = session.answer, session.none
    if session.fault:
        return session.fault, "no answer", True
    if none is not None:
        return none.why, "no formula", True
    if answer is None:
        return "Looking for the closest formula.", "searching", False
    if answer.number != session.setting.number:
        return answer.verdict, "of the setting before; searching", False
    return answer.verdict, answer.certainty, session.proven


def _now(session: Session) -> tuple[str, str]:
    """Return what is wrong now, and the deviation."""
    if session.answer is None:
        return "", ""
    closeness = session.answer.judged.closeness
    return percent(closeness.misplaced_share, 1), f"{closeness.value:.4g}"


def _curve(session: Session) -> str:
    found = None if session.curved is None else session.curved.curve
    asked = session.curved is not None
    return part(PARTS, "curve_part", ROOM, found, (CURVE_WIDTH, HEIGHT, LEFT), asked)


def _tried(session: Session) -> list[dict[str, Any]]:
    return [
        {
            "number": each.number,
            "said": f"{each.said} (before the tables changed)" if each.stale else each.said,
            "here": each.setting.moves == session.setting.moves,
            **outcome_cells(each),
        }
        for each in reversed(session.tried)
    ]


def outcome_cells(tried: Tried) -> dict[str, str]:
    """Return what came of a setting in a few figures."""
    found = tried.outcome
    if found is None:
        return {"wrong": "no formula", "lines": "", "cost": "", "certainty": ""}
    return {
        "wrong": percent(found.misplaced_share, 1),
        "lines": str(found.lines),
        "cost": "?" if found.cost_per_kg is None else f"{found.cost_per_kg:.2f}",
        "certainty": found.certainty,
    }


def beside_part(session: Session, numbers: Iterable[int]) -> str:
    """Return two tried settings side by side; what to do where there are not two."""
    wanted = list(dict.fromkeys(numbers))[-2:]
    found = [each for number in wanted for each in session.tried if each.number == number]
    if any(each.stale for each in found):
        return part(
            PARTS, "beside", ROOM, None, "One of them is of the tables before they changed: go back to it first."
        )
    both = [judge(each.setting.study, each.outcome.amounts) for each in found if each.outcome is not None]
    if len(both) != 2:
        return part(PARTS, "beside", ROOM, None, "Tick two settings that have a formula.")
    cells = beside_cells(both[0], both[1], decimals_of_balance(session.study))
    heads = [{"number": each.number, "said": each.said, **outcome_cells(each)} for each in found]
    return part(PARTS, "beside", ROOM, {"heads": heads, **cells}, "")
