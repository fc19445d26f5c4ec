"""SCIP in a process of its own: SCIP 10 ends its process now and then (a division by zero) or overstays its time."""

from __future__ import annotations

import faulthandler
import multiprocessing
from multiprocessing.connection import Connection

from reaccord.contract import Answer, Budget, Programme
from reaccord.solvers import reference


def scip(programme: Programme, budget: Budget) -> Answer | None:
    """Return SCIP's answer through the reference door; None if it ended its process or stayed twice its time."""
    context = multiprocessing.get_context("fork")
    here, there = context.Pipe(duplex=False)
    own = context.Process(target=_answer, args=(programme, budget, there))
    own.start()
    there.close()
    try:
        said: Answer | None = here.recv() if here.poll(2 * budget.seconds) else None
    except EOFError:
        said = None
    own.kill()
    own.join()
    return said


def _answer(programme: Programme, budget: Budget, there: Connection) -> None:
    faulthandler.disable()  # where SCIP ends the process is known
    there.send(reference.solve(programme, budget))
