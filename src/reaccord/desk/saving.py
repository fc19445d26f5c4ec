"""Files beside the study: another study file with what was moved, the formula, the page, the sheet, the workbook.

Only into the study's own folder, never over its own files, and over another only by a button that names it.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from dataclasses import dataclass
from pathlib import Path

from reaccord.desk.session import Session
from reaccord.desk.shown import shown_of
from reaccord.desk.study_text import Unsaid, study_files
from reaccord.findings import UsageError
from reaccord.report.files import write_whole

ENDINGS = {"study": ".toml", "formula": ".csv", "page": ".html", "sheet": ".html", "workbook": ".xlsx"}
LABELS = {
    "study": ("The study with these settings", "study", "-2"),
    "formula": ("The formula (CSV)", "formula", "-formula"),
    "page": ("The whole page", "page", "-page"),
    "sheet": ("The sheet for the bench", "sheet", "-sheet"),
    "workbook": ("Everything as a workbook", "workbook", "-result"),
}
LONGEST_NAME = 120
BARRED = set('/\\:*?"<>|') | {chr(code) for code in range(32)}
"""Signs that some system does not take in the name of a file."""


@dataclass(frozen=True)
class Asked:
    """What is to be saved, under which name, and over which files that may be."""

    what: str
    file: str
    over: tuple[str, ...] = ()


@dataclass(frozen=True)
class Done:
    """What came of it, in a sentence; the files written; those that stand in the way."""

    text: str
    written: tuple[str, ...] = ()
    again: tuple[str, ...] = ()


def offered(study: Path) -> list[dict[str, str]]:
    """Return what can be saved, each with a name that is free."""
    return [
        {"what": what, "label": label, "noun": noun, "file": _free(study, tail, ENDINGS[what])}
        for what, (label, noun, tail) in LABELS.items()
    ]


def _free(study: Path, tail: str, ending: str) -> str:
    names = (f"{study.stem}{tail}{ending}", *(f"{study.stem}{tail}-{number}{ending}" for number in range(2, 1000)))
    if tail == "-2":
        names = tuple(f"{study.stem}-{number}{ending}" for number in range(2, 1000))
    return next((name for name in names if not (study.parent / name).exists()), names[0])


def save(session: Session, study: Path, asked: Asked) -> Done:
    """Write a file, or say why not."""
    why = _no_name(asked, study, {item.file.split("#")[0] for item in session.base.inputs})
    if why:
        return Done(why)
    try:
        files = _contents(session, study, asked)
    except Unsaid as fault:
        return Done(str(fault))
    there = tuple(name for name in files if (study.parent / name).exists())
    if not set(there) <= set(asked.over):
        verb = "is" if len(there) == 1 else "are"
        return Done(f"{' and '.join(there)} {verb} there already. Give another name, or:", again=there)
    try:
        for name, content in files.items():
            write_whole(study.parent / name, content)
    except UsageError as fault:
        return Done(str(fault))
    beside = [name for name in files if name != asked.file]
    more = f" What a study file cannot say stands in {' and '.join(beside)}, which it names." if beside else ""
    return Done(f"Saved as {asked.file}, in {study.parent}.{more}", tuple(files))


def _no_name(asked: Asked, study: Path, inputs: set[str]) -> str:
    """Say why no file can be written under that name; blank if it can."""
    name, ending = asked.file, ENDINGS.get(asked.what, "")
    where = study.parent.resolve()
    doubts = (
        (not ending, "That is nothing that can be saved."),
        (bool(set(name) & BARRED), "A name alone, please, without / \\ : * ? \" < > |: it is for the study's folder."),
        (
            not name.strip(" .") or name != name.strip(" .") or len(name.encode()) > LONGEST_NAME,
            "Give it a name that begins with a letter or a figure and is not too long.",
        ),
        (not name.lower().endswith(ending), f"End its name in {ending}."),
        (name in {*inputs, study.name}, f"{name} is a file of this study, which stays as it is. Give another name."),
    )
    why = next((says for doubt, says in doubts if doubt), "")
    if not why and (where / name).resolve().parent != where:
        why = f"{name} leads out of the study's folder. Give another name."
    return why


def _contents(session: Session, study: Path, asked: Asked) -> Mapping[str, str | bytes]:
    if asked.what == "study":
        return study_files(session.base, session.study, study, asked.file)
    if session.current is None:
        raise Unsaid("There is no formula of these settings yet.")
    return {asked.file: WRITERS[asked.what](session)}


def _formula(session: Session) -> str:
    from reaccord.answer.formula import formula_rows
    from reaccord.report.csv_table import formula_csv

    assert session.answer is not None
    return formula_csv(formula_rows(session.answer.judged))


def _page(session: Session) -> str:
    from reaccord.report.result_page import Sections, result_page

    shown = shown_of(session)
    assert shown is not None
    return result_page(shown, Sections())


def _workbook(session: Session) -> bytes:
    from reaccord.report.result_page import Sections
    from reaccord.report.result_workbook import result_workbook

    shown = shown_of(session)
    assert shown is not None
    return result_workbook(shown, Sections())


def _sheet(session: Session) -> str:
    from reaccord.balance.sheet import sheet
    from reaccord.balance.usual_vials import usual_vials
    from reaccord.report.sheet_files import sheet_page

    assert session.answer is not None
    made = sheet(session.study, session.answer.amounts, ())
    return sheet_page(made, usual_vials(made))


WRITERS: Mapping[str, Callable[[Session], str | bytes]] = {
    "formula": _formula,
    "page": _page,
    "sheet": _sheet,
    "workbook": _workbook,
}
