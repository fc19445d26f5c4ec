"""The desk's answer as the report shows a formula."""

from __future__ import annotations

from reaccord.desk.session import Session
from reaccord.report.result_page import Shown


def shown_of(session: Session) -> Shown | None:
    """Return the last answer; None where there is none yet."""
    answer, study = session.answer, session.answered
    if answer is None or study is None:
        return None
    how = (answer.verdict, answer.certainty, answer.reasons, answer.holding, answer.figures, answer.shorter)
    return Shown(study, answer.judged, *how)
