"""The page's own files: read once, packed once, known by their content.

Comments and indents stay at home: what travels has its lines where they were, so a complaint of the browser fits.
Whoever asks again with the same tag gets no body. Nothing is kept past a new version, since each use asks first.
"""

import gzip
import hashlib
import re
from collections.abc import Container
from dataclasses import dataclass
from importlib.resources import files
from importlib.resources.abc import Traversable

from fastapi import APIRouter, HTTPException, Request, Response

from spyhole_web.binding import bind

TYPES = {
    ".html": "text/html; charset=utf-8",
    ".js": "text/javascript; charset=utf-8",
    ".css": "text/css; charset=utf-8",
    ".svg": "image/svg+xml",
}
COMMENTS = {
    ".js": re.compile(rb"^[ \t]*(?://[^\n]*|/\*\*(?:(?!\*/).)*\*/[ \t]*)\n", re.MULTILINE | re.DOTALL),
    ".css": re.compile(rb"/\*.*?\*/", re.DOTALL),
}
TYPES_WITHIN = re.compile(rb"/\*\* @[^*\n]*\*/ ?")  # for whoever checks the script, not for whoever runs it
INDENT = re.compile(rb"^[ \t]+", re.MULTILINE)  # no text of ours runs over a line's end: tests/web
VIEWS = {
    "/": "page.html",
    "/start": "start.html",
    "/plans": "plans.html",
    "/card": "card.html",
    "/book": "book.html",
    "/care": "care.html",
    "/studio": "studio.html",
    "/door": "door.html",
}
"""Address of each view, and its document. One view, one document with a script and a style of its own."""
BOUND = {
    "page": (),
    "later": ("page",),
    **dict.fromkeys(("asked", "aside", "cooling"), ("page",)),
    **dict.fromkeys(("duty", "room", "log", "book", "panel"), ("page", "later")),
}
"""Scripts of Now that travel bound with what they need, and which of them are there before each (binding.py)."""
EMULATED_VIEWS = {
    "/exercises": "exercises.html",
}
"""Likewise, and only where the kiln is emulated."""
ROOMS = (
    ("/", "Now"),
    ("/start", "Start"),
    ("/plans", "Plans"),
    ("/book", "Kiln book"),
    ("/care", "Care"),
    ("/studio", "Studio"),
    ("/exercises", "Exercises"),
)
"""The line of links between the views, in its order. Only those that are there are in it."""
PLACE = b'<nav class="rooms"></nav>'  # where a document has that line
RUN_AT_ONCE = b"//# allFunctionsCalledOnLoad\n"
"""Asks the browser to make a script ready whole, beside the page, and not piece by piece in the page's own thread."""
ALSO_AT_ONCE = "uplot/uPlot.iife.min.js"
FRESH = "no-cache"  # keep it, and ask whether it is still the same


@dataclass(frozen=True, slots=True)
class _File:
    media_type: str
    tag: str
    plain: bytes
    packed: bytes


def routes(*, emulated: bool = False) -> APIRouter:
    """GET each of VIEWS and GET /static/..."""
    kept = _bound(dict(_read(files("spyhole_web").joinpath("static"), "")))
    there = {**VIEWS, **(EMULATED_VIEWS if emulated else {})}
    views = {address: _with_rooms(kept[document], address, there) for address, document in there.items()}
    api = APIRouter(include_in_schema=False)

    async def view(request: Request) -> Response:
        return _answer(request, views[request.url.path])

    for address in views:
        api.add_api_route(address, view, methods=["GET", "HEAD"])

    @api.api_route("/static/{name:path}", methods=["GET", "HEAD"])
    async def named(request: Request, name: str) -> Response:
        if name not in kept:
            raise HTTPException(404)
        return _answer(request, kept[name])

    return api


def _read(folder: Traversable, prefix: str) -> list[tuple[str, _File]]:
    found: list[tuple[str, _File]] = []
    for item in folder.iterdir():
        suffix = "." + item.name.rpartition(".")[2]
        if item.is_dir():
            found += _read(item, f"{prefix}{item.name}/")
        elif suffix in TYPES:
            plain = item.read_bytes()
            if suffix in COMMENTS:
                plain = COMMENTS[suffix].sub(lambda comment: b"\n" * comment[0].count(b"\n"), plain)
                plain = TYPES_WITHIN.sub(b"", plain)
                plain = INDENT.sub(b"", plain)
            found.append((prefix + item.name, _packed(TYPES[suffix], plain)))
    return found


def _bound(kept: dict[str, _File]) -> dict[str, _File]:
    sources = {name.removesuffix(".js"): file.plain.decode() for name, file in kept.items() if name.endswith(".js")}
    bound = bind(sources, BOUND)
    ready = {f"{name}.js": text.encode() for name, text in bound.items()} | {ALSO_AT_ONCE: kept[ALSO_AT_ONCE].plain}
    return kept | {name: _packed(TYPES[".js"], RUN_AT_ONCE + text) for name, text in ready.items()}


def _packed(media_type: str, plain: bytes) -> _File:
    tag = f'"{hashlib.sha256(plain).hexdigest()[:20]}"'
    return _File(media_type, tag, plain, gzip.compress(plain, 9, mtime=0))


def _with_rooms(file: _File, address: str, there: Container[str]) -> _File:
    """The document with the line of links in its place, without a script, so that it stands when scripts do not."""
    here = ' aria-current="page"'
    links = [f'<a href="{to}"{here if to == address else ""}>{name}</a>' for to, name in ROOMS if to in there]
    line = f'<nav class="rooms" aria-label="Rooms">{"".join(links)}</nav>' if len(links) > 1 else ""
    return _packed(file.media_type, file.plain.replace(PLACE, line.encode()))


def _answer(request: Request, file: _File) -> Response:
    headers = {"etag": file.tag, "cache-control": FRESH, "vary": "accept-encoding"}
    if file.tag in request.headers.get("if-none-match", ""):
        return Response(status_code=304, headers=headers)
    if "gzip" in request.headers.get("accept-encoding", ""):
        return Response(file.packed, media_type=file.media_type, headers={**headers, "content-encoding": "gzip"})
    return Response(file.plain, media_type=file.media_type, headers=headers)
