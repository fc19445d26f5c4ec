"""The desk's pages over HTTP, on this machine alone."""

from __future__ import annotations

import asyncio
import contextlib
import secrets
from collections.abc import AsyncIterator, Callable
from pathlib import Path
from typing import Any
from urllib.parse import parse_qsl

from starlette.applications import Starlette
from starlette.concurrency import run_in_threadpool
from starlette.requests import Request
from starlette.responses import HTMLResponse, JSONResponse, RedirectResponse, Response, StreamingResponse
from starlette.routing import Route

from reaccord.desk import saving, view
from reaccord.desk.guard import Guard
from reaccord.desk.handle import OFF, ON
from reaccord.desk.opened import Opened, opened, stamp_of
from reaccord.desk.tab import Tab, event
from reaccord.desk.view import Notice
from reaccord.findings import Finding

MOST_TABS = 16
"""Tabs at once; of more the one opened first is closed."""
LOOK_AGAIN = 1.0
"""Seconds between two looks at the study's files."""
SOON = 0.5
"""Seconds that a page waits for the proof: one with script is told of it later, one without looks again."""
WAIT = 20.0
"""Seconds that a page without script waits for the proof after a move."""
CHANGED = "The study's files were changed since they were read."


class Desk:
    """One study, its tabs, and what happens to its files."""

    def __init__(self, file: Path, read: Opened, said: tuple[str, ...] = ()) -> None:
        self.file, self.read, self.said = file, read, said
        self.secret = secrets.token_urlsafe(16)
        self.tabs: dict[str, Tab] = {}
        self._first: Tab | None = None
        self.saved: list[str] = []
        self.ended = False
        self._seen = read.stamp
        self._changed = False
        self._refused: tuple[Finding, ...] = ()
        self._readings = 0

    def app(self, port: int) -> Guard:
        """Return the application, as it is served at a port."""
        at = f"/{self.secret}"
        tab = f"{at}/{{tab}}"
        routes = [
            Route(f"{at}/", self.new),
            Route(f"{at}/mended", self.mended),
            Route(f"{tab}/", self.page),
            Route(f"{tab}/events", self.events),
            Route(f"{tab}/beside", self.beside),
            *(Route(f"{tab}/{name}", self._posted(do), methods=["POST"]) for name, do in self._deeds().items()),
            Route(f"{tab}/save", self.save, methods=["POST"]),
        ]
        return Guard(Starlette(routes=routes, lifespan=self._living), self.secret, port)

    @contextlib.asynccontextmanager
    async def _living(self, app: Starlette) -> AsyncIterator[None]:
        del app
        watching = asyncio.create_task(self._watch())
        if self.read.study is not None:
            self._first = Tab(self.read.study, self.notices)  # it searches while the browser opens
        try:
            yield
        finally:
            watching.cancel()
            self.end()

    def end(self) -> None:
        """End every search, and all that pages listen to; once is enough."""
        if self.ended:
            return
        self.ended = True
        for tab in (*self.tabs.values(), *filter(None, [self._first])):
            tab.end("ended")

    async def _watch(self) -> None:
        """Notice what becomes of the study's files.

        One with findings is read again at once, another is offered; of tables that were refused those findings go
        that are mended.
        """
        while True:
            await asyncio.sleep(LOOK_AGAIN)
            now = await run_in_threadpool(stamp_of, self.file)
            if now == self._seen:
                continue
            self._seen = now
            if self.read.study is None:
                self.read = await run_in_threadpool(opened, self.file)
                self._readings += 1
                continue
            if self._refused:
                self._refused = (await run_in_threadpool(opened, self.file)).findings
            self._changed = True
            for tab in self.tabs.values():
                tab.tell({"parts": view.notices_part(tab.notices)})

    def notices(self) -> list[Notice]:
        """Return what every tab is to know."""
        found = [Notice(text) for text in self.said]
        if self._refused:
            return [*found, *(Notice(f"Not taken over: {finding}") for finding in self._refused)]
        return [*found, Notice(CHANGED, ("reload", "Read them again"))] if self._changed else found

    async def new(self, request: Request) -> Response:
        """Open a tab."""
        if self.read.study is None:
            found = self.read.findings
            return HTMLResponse(view.findings_page(self.file.name, found, self._readings, request.state.nonce))
        left = next((tab for tab in reversed(self.tabs.values()) if tab.is_left), None)
        if left is not None:  # whoever closed the page goes on where they were
            return RedirectResponse(f"/{self.secret}/{left.token}/", 303)
        tab, self._first = self._first or Tab(self.read.study, self.notices), None
        self.tabs[tab.token] = tab
        while len(self.tabs) > MOST_TABS:
            self.tabs.pop(next(iter(self.tabs))).end()
        return RedirectResponse(f"/{self.secret}/{tab.token}/", 303)

    async def mended(self, request: Request) -> Response:
        """Tell a page of findings, which says at which reading it was made, when the study has been read again."""
        shown = request.query_params.get("reading", "")

        async def told() -> AsyncIterator[str]:
            while not self.ended and shown == str(self._readings):
                yield ": still there\n\n"
                await asyncio.sleep(LOOK_AGAIN)
            yield event({"read": True})

        return StreamingResponse(told(), media_type="text/event-stream")

    async def page(self, request: Request) -> Response:
        """Return the page of a tab."""
        tab = self._tab(request)
        if tab is None:
            return RedirectResponse(f"/{self.secret}/", 303)
        await tab.settled(SOON)
        files = saving.offered(self.file)
        return HTMLResponse(view.whole_page(tab.session, request.state.nonce, tab.notices, files))

    async def events(self, request: Request) -> Response:
        """Return the stream of what a page is to be told."""
        tab = self._tab(request)
        if tab is None:
            return StreamingResponse(iter([event({"gone": True})]), media_type="text/event-stream")
        return StreamingResponse(tab.events(), media_type="text/event-stream")

    async def beside(self, request: Request) -> Response:
        """Return two tried settings side by side."""
        tab = self._tab(request)
        if tab is None:
            return RedirectResponse(f"/{self.secret}/", 303)
        numbers = [int(text) for text in request.query_params.getlist("n") if text.isdecimal() and len(text) < 9]
        found = view.beside_part(tab.session, numbers)
        if "x-desk" in request.headers:
            return HTMLResponse(found)
        return HTMLResponse(view.alone_page("Side by side", found, request.state.nonce))

    def _deeds(self) -> dict[str, Callable[[Tab, list[tuple[str, str]]], Any]]:
        return {
            "move": lambda tab, data: tab.move(_wanted(data)),
            "undo": lambda tab, _: tab.go(lambda: tab.session.step(-1)),
            "redo": lambda tab, _: tab.go(lambda: tab.session.step(1)),
            "start": lambda tab, _: tab.go(tab.session.start_again),
            "back": lambda tab, data: tab.go(lambda: tab.session.back_to(_number(data))),
            "reload": self._read_again,
        }

    def _posted(self, do: Callable[[Tab, list[tuple[str, str]]], Any]) -> Callable[[Request], Any]:
        async def answer(request: Request) -> Response:
            tab, data = self._tab(request), await _data(request)
            if tab is None:
                return self._gone(request)
            names = do(tab, data)
            if asyncio.iscoroutine(names):
                names = await names
            if "x-desk" not in request.headers:
                await tab.settled(WAIT)
                return RedirectResponse(f"/{self.secret}/{tab.token}/", 303)
            return JSONResponse(view.standing(tab.session, names, tab.notices))

        return answer

    async def _read_again(self, tab: Tab, data: list[tuple[str, str]]) -> set[str]:
        del data
        read = await run_in_threadpool(opened, self.file)
        self._seen, self._changed, self._refused = read.stamp, False, read.findings
        if read.study is not None:
            self.read = read
        for each in (*self.tabs.values(), *filter(None, [self._first])):
            if read.study is not None:
                lost = each.session.read_again(read.study)
                each.own = {name: Notice(f"Not kept: {text}") for name, text in lost.items()}
                each.begin_again()
            each.tell({"parts": view.all_parts(each.session, each.notices)})
        return set()

    async def save(self, request: Request) -> Response:
        """Write a file into the study's folder."""
        tab, data = self._tab(request), dict(await _data(request))
        if tab is None:
            return self._gone(request)
        asked = saving.Asked(
            data.get("what", ""), data.get("file", ""), tuple(filter(None, data.get("over", "").split("|")))
        )
        done = await run_in_threadpool(saving.save, tab.session, self.file, asked)
        self.saved += done.written
        html = view.saved_part(done, asked)
        if "x-desk" in request.headers:
            return JSONResponse({"parts": {"saved": html}})
        return HTMLResponse(view.alone_page("Save", html, request.state.nonce))

    def _tab(self, request: Request) -> Tab | None:
        return self.tabs.get(request.path_params["tab"])

    def _gone(self, request: Request) -> Response:
        if "x-desk" in request.headers:
            return JSONResponse({"gone": True})
        return RedirectResponse(f"/{self.secret}/", 303)


async def _data(request: Request) -> list[tuple[str, str]]:
    body = bytearray()
    async for piece in request.stream():
        body += piece
    return parse_qsl(body.decode("utf-8", "replace"), keep_blank_values=True)


def _wanted(data: list[tuple[str, str]]) -> dict[str, str]:
    """Return where handles are wanted: a switch of a page without script that is not sent is out."""
    wanted = {name: OFF for key, name in data if key == "there"}
    wanted |= {name: text for name, text in data if name not in {"there", "set"}}
    for key, text in data:
        if key == "set":
            state, _, name = text.partition(" ")
            wanted[name] = state if state in {ON, OFF} else OFF
    return wanted


def _number(data: list[tuple[str, str]]) -> int:
    text = next((text for key, text in data if key == "n"), "")
    return int(text) if text.isdecimal() and len(text) < 9 else 0
