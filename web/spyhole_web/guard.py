"""Stands before every room of the page: whose address was asked for, who asks for a change, what a browser may do.

Written on ASGI itself, so that a stream passes through it untouched.
"""

from http import HTTPStatus

from starlette.datastructures import Headers, MutableHeaders
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from spyhole.core.forms.jpeg import LARGEST_BYTES
from spyhole_web.problems import problem

LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
READS = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_BODY_BYTES = 64 * 1024
LARGER_BODIES = {"/api/photos": LARGEST_BYTES}

HEADERS = {
    "content-security-policy": (
        "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
}


class Guard:
    """Refuses a foreign address (DNS rebinding), a write from a foreign page, and a body too large; adds HEADERS."""

    def __init__(self, app: ASGIApp, *, allowed_hosts: tuple[str, ...]) -> None:
        self._app = app
        self._hosts = frozenset(name.lower() for name in (*LOOPBACK, *allowed_hosts))

    async def __call__(self, scope: Scope, receive: Receive, send: Send) -> None:
        if scope["type"] != "http":
            await self._app(scope, receive, send)
            return

        async def answer(message: Message) -> None:
            if message["type"] == "http.response.start":
                headers = MutableHeaders(scope=message)
                for name, value in HEADERS.items():
                    headers.setdefault(name, value)
                headers.setdefault("cache-control", "no-store")
            await send(message)

        largest = LARGER_BODIES.get(scope["path"], LARGEST_BODY_BYTES)
        refused = self._refusal(scope["method"], Headers(scope=scope), largest)
        if refused is not None:
            await problem(*refused)(scope, receive, answer)
            return
        await self._app(scope, _Measured(receive, largest).receive, answer)

    def _refusal(self, method: str, headers: Headers, largest: int) -> tuple[int, str] | None:
        host = headers.get("host", "").lower()
        if _without_port(host) not in self._hosts:
            return HTTPStatus.BAD_REQUEST, (
                "This page does not answer to the name it was asked by. Open it by the address spyhole printed "
                "when it started, or add the name to the settings."
            )
        if method in READS:
            return None
        # A browser names the page that sends a write; a program names none.
        origin = headers.get("origin")
        if origin is not None and origin.lower() not in (f"http://{host}", f"https://{host}"):
            return HTTPStatus.FORBIDDEN, "Nothing was changed: this came from another page than spyhole's own."
        if headers.get("sec-fetch-site", "same-origin") not in ("same-origin", "none"):
            return HTTPStatus.FORBIDDEN, "Nothing was changed: this came from another page than spyhole's own."
        length = headers.get("content-length", "0")
        if not length.isdecimal() or int(length) > largest:
            return HTTPStatus.REQUEST_ENTITY_TOO_LARGE, "Nothing was changed: that is more than the page takes at once."
        return None


class _Measured:
    """Cuts a body off that says no length and goes on and on."""

    def __init__(self, receive: Receive, largest: int) -> None:
        self._receive = receive
        self._left = largest

    async def receive(self) -> Message:
        message = await self._receive()
        if message["type"] == "http.request":
            self._left -= len(message.get("body", b""))
            if self._left < 0:
                return {"type": "http.disconnect"}
        return message


def _without_port(host: str) -> str:
    if host.startswith("["):
        return host.partition("]")[0] + "]"
    return host.partition(":")[0]
