"""Stands before every room of the page: whose address was asked for, who asks, what a browser may do.

Written on ASGI itself, so that a stream passes through it untouched.
"""

import ipaddress
from http import HTTPStatus
from http.cookies import CookieError, SimpleCookie

from starlette.datastructures import Headers, MutableHeaders
from starlette.responses import RedirectResponse
from starlette.types import ASGIApp, Message, Receive, Scope, Send

from spyhole.core.access import Role, Visitor
from spyhole.core.forms.jpeg import LARGEST_BYTES
from spyhole.services.access import Access
from spyhole_web.problems import problem
from spyhole_web.visitor import welcome

LOOPBACK = ("localhost", "127.0.0.1", "[::1]")
READS = frozenset({"GET", "HEAD", "OPTIONS"})
LARGEST_BODY_BYTES = 64 * 1024
LARGER_BODIES = {"/api/photos": LARGEST_BYTES}

DOOR = "/door"
OPEN = ("/static/", "/handbook", "/link/", "/api/door/")
"""What begins like this is for everybody: it says nothing of the kiln, or asks for a key of its own."""
OPEN_ALSO = frozenset({DOOR, "/healthz"})
KEEPERS_ONLY = ("/api/keys", "/api/people", "/api/backups")
"""What a guest does not even look at."""
OWN = frozenset({("DELETE", "/api/me")})
"""What a guest may change: that they are here."""
BEARER = "bearer "

HEADERS = {
    "content-security-policy": (
        "default-src 'self'; base-uri 'none'; form-action 'self'; frame-ancestors 'none'; object-src 'none'"
    ),
    "x-content-type-options": "nosniff",
    "referrer-policy": "no-referrer",
    "cross-origin-resource-policy": "same-origin",
}


class Guard:
    """Refuses a foreign address (DNS rebinding), a write from a foreign page, a body too large, and who is not let in.

    numbers: whether any IP address will do as well; a foreign page has a name.
    access: None for a page that stands by itself in a test. cookie: the name of the device's secret.
    """

    def __init__(
        self,
        app: ASGIApp,
        *,
        allowed_hosts: tuple[str, ...],
        numbers: bool = False,
        access: Access | None = None,
        cookie: str = "spyhole",
    ) -> None:
        self._app = app
        self._hosts = frozenset(name.lower() for name in (*LOOPBACK, *allowed_hosts))
        self._numbers = numbers
        self._access = access
        self._cookie = cookie

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
                if scope["scheme"] == "https":
                    headers.setdefault("strict-transport-security", "max-age=31536000")
            await send(message)

        headers = Headers(scope=scope)
        largest = LARGER_BODIES.get(scope["path"], LARGEST_BODY_BYTES)
        refused = self._refusal(scope["method"], headers, largest)
        if refused is not None:
            await problem(*refused)(scope, receive, answer)
            return
        if self._access is not None and not for_everybody(scope["path"]):
            visitor = self._visitor(self._access, headers)
            refused = _not_for(visitor, scope["method"], scope["path"])
            if refused is not None and visitor is None and "text/html" in headers.get("accept", ""):
                await RedirectResponse(DOOR, HTTPStatus.SEE_OTHER)(scope, receive, answer)
                return
            if refused is not None:
                await problem(*refused)(scope, receive, answer)
                return
            if visitor is not None:
                welcome(visitor, self._access)
        await self._app(scope, _Measured(receive, largest).receive, answer)

    def _visitor(self, access: Access, headers: Headers) -> Visitor | None:
        said = headers.get("authorization", "")
        token = said[len(BEARER) :].strip() if said.lower().startswith(BEARER) else None
        return access.visitor(_cookie(headers.get("cookie", ""), self._cookie), token)

    def _refusal(self, method: str, headers: Headers, largest: int) -> tuple[int, str] | None:
        host = headers.get("host", "").lower()
        if _without_port(host) not in self._hosts and not (self._numbers and _is_number(_without_port(host))):
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


def for_everybody(path: str) -> bool:
    """Whether this address asks for no key."""
    return path in OPEN_ALSO or path.startswith(OPEN)


def _not_for(visitor: Visitor | None, method: str, path: str) -> tuple[int, str] | None:
    if visitor is None:
        return HTTPStatus.UNAUTHORIZED, "Come in first: open the page's door with a code, or send a token."
    change = method not in READS and (method, path) not in OWN
    if not visitor.may(change=change):
        return HTTPStatus.FORBIDDEN, "Nothing was changed: a guest looks. Ask a keeper."
    if visitor.role is Role.GUEST and path.startswith(KEEPERS_ONLY):
        return HTTPStatus.FORBIDDEN, "This is for keepers."
    return None


def _cookie(header: str, name: str) -> str | None:
    try:
        found = SimpleCookie(header).get(name)
    except CookieError:
        return None
    return None if found is None else found.value


def _is_number(host: str) -> bool:
    try:
        ipaddress.ip_address(host.strip("[]"))
    except ValueError:
        return False
    return True


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
