"""Who may talk to the page, and what the page may do: this machine, this browser, this address.

Every answer carries a strict content policy. Requests need the right Host; anything but the door
needs the cookie that the opened address was exchanged for; whatever changes something must come
from the page itself, as JSON, and small.
"""

from __future__ import annotations

import hmac
import secrets
from collections.abc import Awaitable, Callable
from http.cookies import CookieError, SimpleCookie
from typing import Final

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import JSONResponse, PlainTextResponse, Response
from starlette.types import ASGIApp, Message, Receive, Scope, Send

MOST_BODY_BYTES: Final = 64 * 1024
"""No deed of the page needs more (house)."""
MOST_ADDRESS_BYTES: Final = 2048
MOST_AT_ONCE: Final = 100
"""Requests answered at one time; those beyond are told to come again (house: a browser has six)."""
SAFE_METHODS: Final = frozenset({"GET", "HEAD"})

HEADERS: Final = {
    "content-security-policy": (
        "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; "
        "connect-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; "
        "require-trusted-types-for 'script'; trusted-types 'none'"
    ),
    "x-content-type-options": "nosniff",
    "x-frame-options": "DENY",
    "referrer-policy": "same-origin",
    "cross-origin-opener-policy": "same-origin",
    "cross-origin-resource-policy": "same-origin",
    "permissions-policy": "camera=(), microphone=(), geolocation=(), usb=(), payment=()",
    "x-robots-tag": "noindex, nofollow",
}


class Keys:
    """The one-time key in the opened address, and the cookie it is exchanged for."""

    def __init__(self) -> None:
        self._key: str | None = secrets.token_urlsafe(32)
        self._cookie = secrets.token_urlsafe(32)

    @property
    def key(self) -> str:
        """The key to put into the opened address; empty once it was used."""
        return self._key or ""

    def exchanged(self, key: str) -> str | None:
        """The cookie for the key, once; None for a wrong or used one."""
        if self._key is None or not hmac.compare_digest(key.encode(), self._key.encode()):
            return None
        self._key = None
        return self._cookie

    def known(self, cookie: str) -> bool:
        """Whether this is our cookie."""
        return hmac.compare_digest(cookie.encode(), self._cookie.encode())


class Guard:
    """Turns away what is not this page in this browser on this machine."""

    def __init__(self, app: ASGIApp, *, keys: Keys, hosts: frozenset[str], cookie: str) -> None:
        self.app, self.keys, self.hosts, self.cookie = app, keys, hosts, cookie
        self._answering = 0

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        """One request."""
        if scope["type"] == "lifespan":
            await self.app(scope, receive, send)
            return
        if scope["type"] != "http":
            await send({"type": "websocket.close", "code": 1008})
            return
        headed = _with_headers(send)
        refusal = self._refusal(scope)
        if refusal is not None:
            await refusal(scope, receive, headed)
            return
        if self._answering >= MOST_AT_ONCE:
            busy = _said(503, "Too much is asked at once. Wait a moment, and try again.")
            await busy(scope, receive, headed)
            return
        self._answering += 1
        try:
            await self.app(scope, _limited(receive), headed)
        finally:
            self._answering -= 1

    def _refusal(self, scope: Scope) -> Response | None:
        """The answer to a request that goes no further; None when it may pass."""
        headers, method, path = Headers(scope=scope), scope["method"], scope["path"]
        if headers.getlist("host") not in [[host] for host in self.hosts]:
            return _said(421, "This page answers only under the address it was opened at.")
        if len(scope["raw_path"]) + len(scope["query_string"]) > MOST_ADDRESS_BYTES:
            return _said(414, "This address is too long.")
        if headers.get("sec-fetch-site", "none") not in {"same-origin", "none"} and not (
            method == "GET" and path == "/open"
        ):
            return _said(403, "Only the page itself may ask for this.")
        if method not in SAFE_METHODS:
            refusal = _refused_deed(headers, method, self.hosts)
            if refusal is not None:
                return refusal
        if path != "/open" and not self._has_cookie(headers):
            return _said(
                403,
                "This page opens with the address that `cropper review` printed, once. "
                "Close this tab, and start `cropper review` again for a fresh address.",
            )
        return None

    def _has_cookie(self, headers: Headers) -> bool:
        jar = SimpleCookie()
        try:
            jar.load(headers.get("cookie", ""))
        except CookieError:
            return False
        morsel = jar.get(self.cookie)
        return morsel is not None and self.keys.known(morsel.value)


def _refused_deed(headers: Headers, method: str, hosts: frozenset[str]) -> Response | None:
    """Whatever may change something: from our own page, as JSON, and small."""
    if method != "POST":
        return _said(405, "There is nothing to do this way.")
    host = headers.get("host", "")
    if host not in hosts or headers.getlist("origin") != [f"http://{host}"]:
        return _said(403, "Only the page itself may do this.")
    if headers.get("content-type", "").split(";")[0].strip().lower() != "application/json":
        return _said(415, "Only JSON is taken.")
    length = headers.get("content-length", "")
    if not length.isdigit():
        return _said(411, "The length must be said beforehand.")
    if int(length) > MOST_BODY_BYTES:
        return _said(413, f"No more than {MOST_BODY_BYTES} bytes are taken.")
    return None


def _said(status: int, sentence: str) -> Response:
    if status in {403, 421}:
        return PlainTextResponse(sentence, status)
    return JSONResponse({"error": sentence}, status)


def _with_headers(send: Send) -> Callable[[Message], Awaitable[None]]:
    async def headed(message: Message) -> None:
        if message["type"] == "http.response.start":
            headers = MutableHeaders(scope=message)
            for name, value in HEADERS.items():
                headers[name] = value
            headers.setdefault("cache-control", "no-store")
        await send(message)

    return headed


def _limited(receive: Receive) -> Receive:
    """A body never grows past what was allowed, whatever length it gave."""
    taken = 0

    async def limited() -> Message:
        nonlocal taken
        message = await receive()
        taken += len(message.get("body", b""))
        if taken > MOST_BODY_BYTES:
            return {"type": "http.disconnect"}
        return message

    return limited
