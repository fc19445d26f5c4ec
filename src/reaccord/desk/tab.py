"""One tab: its session, its process, and the pages that listen to it."""

from __future__ import annotations

import asyncio
import json
import secrets
from collections.abc import AsyncIterator, Callable, Mapping
from contextlib import suppress
from typing import Any

from reaccord.desk import view
from reaccord.desk.answering import Job, Message
from reaccord.desk.session import Session
from reaccord.desk.view import Notice
from reaccord.desk.worker import Fault, Worker
from reaccord.domain.study import Study

LEFT_ALONE = 60.0
"""Seconds without a page that listens after which the process of a tab ends; its settings stay."""
STILL_THERE = 15.0
"""Seconds between two words to a page, so that one that is gone is noticed."""


class Tab:
    """Lives in the server's event loop; what its process says is brought there."""

    def __init__(self, study: Study, notices: Callable[[], list[Notice]]) -> None:
        self.token = secrets.token_urlsafe(12)
        self.session = Session(study)
        self.own: dict[str, Notice] = {}
        self._notices = notices
        self._loop = asyncio.get_running_loop()
        self._pages: set[asyncio.Queue[dict[str, Any]]] = set()
        self._worker: Worker | None = None
        self._settled = asyncio.Event()
        self._alone: asyncio.TimerHandle | None = None
        self._was_seen = False
        self.ask()
        self._leave_soon()

    @property
    def notices(self) -> list[Notice]:
        """What is to be known beside the answer: of every tab, and of the handles of this one."""
        return [*self._notices(), *self.own.values()]

    @property
    def is_left(self) -> bool:
        """Whether a page has shown it, none does any more, and something was tried in it."""
        return self._was_seen and not self._pages and len(self.session.path) > 1

    @property
    def pid(self) -> int | None:
        """The number of the process."""
        return None if self._worker is None else self._worker.pid

    def ask(self) -> None:
        """Have the setting answered as the handles stand now."""
        self._settled.clear()
        if self._worker is None:
            self._worker = Worker(self.session.base, self._from_worker)
        setting = self.session.setting
        self._worker.ask(Job(setting.number, setting.moves))

    def begin_again(self) -> None:
        """Give the process another study to begin from: a new process."""
        self._end_worker()
        self.ask()

    def move(self, wanted: Mapping[str, str]) -> set[str]:
        """Move handles; return the names of those that may say something else now."""
        before = self.session.setting
        for name in wanted:  # whoever sets a handle knows that it was not kept
            self.own.pop(name, None)
        if self.session.move(wanted):
            self.ask()
        return {*wanted, *self.session.wrong, *_differing(before.moves, self.session.setting.moves)}

    def go(self, step: Callable[[], bool]) -> set[str]:
        """Take a step among the settings; return the names of handles that may say something else now."""
        before = self.session.setting
        wrong = set(self.session.wrong)
        if step():
            self.ask()
        return {*wrong, *_differing(before.moves, self.session.setting.moves)}

    def parts(self) -> dict[str, str]:
        """Return the pieces of the page as they stand."""
        return view.parts(self.session, self.notices)

    def tell(self, told: dict[str, Any]) -> None:
        """Tell every page that listens."""
        for page in self._pages:
            page.put_nowait(told)

    async def settled(self, seconds: float) -> None:
        """Wait until nothing is searched for any more, or for so long."""
        if not self.session.proven:
            try:
                await asyncio.wait_for(self._settled.wait(), seconds)
            except TimeoutError:
                return

    async def events(self) -> AsyncIterator[str]:
        """Yield what a page is to be told, as it comes."""
        page: asyncio.Queue[dict[str, Any]] = asyncio.Queue()
        self._pages.add(page)
        self._was_seen = True
        if self._alone is not None:
            self._alone.cancel()
        if self._worker is None:
            self.ask()
        try:
            yield event({"parts": self.parts()})
            told: dict[str, Any] = {}
            while "gone" not in told and "ended" not in told:
                try:
                    told = await asyncio.wait_for(page.get(), STILL_THERE)
                    yield event(told)
                except TimeoutError:
                    yield ": still there\n\n"
        finally:
            self._pages.discard(page)
            if not self._pages:
                self._leave_soon()

    def end(self, why: str = "gone") -> None:
        """End the process, and let pages know that the tab is gone, or that the desk has ended."""
        self._end_worker()
        self.tell({why: True})

    def _leave_soon(self) -> None:
        self._alone = self._loop.call_later(LEFT_ALONE, self._end_worker)

    def _end_worker(self) -> None:
        if self._worker is not None:
            self._worker.end()
            self._worker = None

    def _from_worker(self, message: Message | Fault) -> None:
        with suppress(RuntimeError):  # the loop is closed: the server has ended, and nobody waits for this
            self._loop.call_soon_threadsafe(self._heard, message)

    def _heard(self, message: Message | Fault) -> None:
        if isinstance(message, Fault):
            if message.number != self.session.setting.number:
                return
            self.session.fault = message.why
        elif not self.session.heard(message):
            return
        if self.session.proven:
            self._settled.set()
        try:
            parts = self.parts()
        except Exception as fault:  # told on the page: else it would search for ever
            self.session.fault = f"A fault of ours: {type(fault).__name__}: {fault}"
            self._settled.set()
            parts = view.verdict_part(self.session)
        self.tell({"parts": parts})


def _differing(one: Mapping[str, object], other: Mapping[str, object]) -> set[str]:
    return {name for name in {*one, *other} if one.get(name) != other.get(name)}


def event(told: dict[str, Any]) -> str:
    """Write one event of a stream (server-sent events, HTML Living Standard 9.2)."""
    return f"data: {json.dumps(told, ensure_ascii=False)}\n\n"
