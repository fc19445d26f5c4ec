"""Who may talk to the desk: a browser on this machine that was given the address, and no other page in it."""

from __future__ import annotations

import hmac
import secrets

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import PlainTextResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BYTES = 1_000_000
"""Of what one request may bring: all fields of a large study are some 50 kB."""


class Guard:
    """Refuses what names another host, comes from another page or lacks the secret; says how pages may be used.

    A host that is not this one is how a foreign page reaches a local server by a name of its own (DNS rebinding); the
    secret keeps out other people on the same machine.
    """

    def __init__(self, app: ASGIApp, secret: str, port: int) -> None:
        self._app, self._secret = app, secret
        self._hosts = {f"127.0.0.1:{port}", f"localhost:{port}"}

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """Pass a request on, or refuse it."""
        if scope["type"] == "lifespan":
            await self._app(scope, receive, send)
            return
        why = "only pages are served here." if scope["type"] != "http" else self._refused(scope)
        nonce = secrets.token_urlsafe(16)

        async def answered(message: Message) -> None:
            if message["type"] == "http.response.start":
                MutableHeaders(scope=message).update(_headers(nonce))
            await send(message)

        if why:
            await PlainTextResponse(f"Refused: {why}", 403)(scope, receive, answered)
            return
        scope.setdefault("state", {})["nonce"] = nonce
        await self._app(scope, receive, answered)

    def _refused(self, scope: Scope) -> str:
        headers = Headers(scope=scope)
        host, origin = headers.get("host", ""), headers.get("origin")
        if host not in self._hosts:
            return "another host is named."
        if origin is not None and origin not in {f"http://{each}" for each in self._hosts}:
            return "it comes from another page."
        if headers.get("sec-fetch-site", "none") not in {"same-origin", "none"}:
            return "it comes from another page."
        given = scope["path"].split("/")[1].encode()
        if not hmac.compare_digest(given, self._secret.encode()):
            return "the address is not whole. It stands in the window in which the desk was started."
        if int(headers.get("content-length") or 0) > MOST_BYTES:
            return "that is too much at once."
        return ""


def _headers(nonce: str) -> dict[str, str]:
    policy = (
        "default-src 'none'",
        f"script-src 'nonce-{nonce}'",
        f"style-src 'nonce-{nonce}'",
        "connect-src 'self'",
        "form-action 'self'",
        "frame-ancestors 'none'",
        "base-uri 'none'",
    )
    return {
        "content-security-policy": "; ".join(policy),
        "x-frame-options": "DENY",
        "x-content-type-options": "nosniff",
        "referrer-policy": "no-referrer",
        "cross-origin-opener-policy": "same-origin",
        "cross-origin-resource-policy": "same-origin",
        "cache-control": "no-store",
    }
