"""The kiln book: leafed through, searched, opened, and firings laid over one another."""

from collections.abc import Callable
from typing import Annotated, TypeVar

from fastapi import APIRouter, HTTPException, Path, Query
from pydantic import Field

from spyhole.core.overlay import By
from spyhole.core.refusal import Refusal
from spyhole.services.book import NOT_THERE, Book, BookPage, Opened, Overlay
from spyhole_web import examples
from spyhole_web.problems import DOCUMENTED
from spyhole_web.shapes import LARGEST, Line

HOUR = 3_600_000
_FIRING = examples.BOOK["firings"][0]
_LIT = _FIRING["started_utc_ms"]
PAGE: examples.Example = {
    "lines": [{"firing": _FIRING, "sketch": {"utc_ms": [_LIT, _LIT + 9 * HOUR], "celsius": [18.0, 96.0]}}],
    "found": 1,
    "total": 1,
}
_STAGES = [{"stage": "candling", "began_utc_ms": _LIT, "hours": 10.2}]
OPENED: examples.Example = {
    "firing": _FIRING,
    "stages": _STAGES,
    "marks": [
        {"utc_ms": _LIT + HOUR, "kind": "entry", "words": "Top turned to high", "who": "Mina", "photo": None},
    ],
}
OVERLAY: examples.Example = {
    "by": "clock",
    "ring": "middle",
    "hours": [0.0, 1.0],
    "firings": [
        {"firing": _FIRING, "celsius": [18.0, 44.5], "against_first": [0.0, 0.0], "stages": _STAGES},
        {"firing": {**_FIRING, "id": 9}, "celsius": [20.0, None], "against_first": [2.0, None], "stages": _STAGES},
    ],
}
_NOT_FOUND: examples.Responses = {404: {**DOCUMENTED[500], "description": "There is no such firing."}}
Firing = Annotated[int, Path(ge=1, le=LARGEST, description="as in the kiln book")]
T = TypeVar("T")


def book_routes(book: Book) -> APIRouter:
    """For every kiln that keeps a record."""
    api = APIRouter(prefix="/api/book", tags=["kiln book"])

    @api.get("", responses=examples.answer(PAGE))
    def page(
        newest: Annotated[int, Query(ge=1, le=100, description="at most so many")] = 20,
        before: Annotated[int | None, Query(ge=1, le=LARGEST, description="only those before this one")] = None,
        words: Annotated[str, Query(description="plan, cone, year, outcome, or what was noted"), Line] = "",
    ) -> BookPage:
        """A page of the book, each firing with a sketch of its curve. The next page begins before the last id of it."""
        return book.page(newest, before, words)

    @api.get("/overlay", responses={**_NOT_FOUND, **examples.answer(OVERLAY)})
    def overlay(
        firing: Annotated[
            list[Annotated[int, Field(ge=1, le=LARGEST)]],
            Query(min_length=2, max_length=4, description="ids; the first is the measure"),
        ],
        by: Annotated[By, Query(description="from lighting on, or stage upon stage")] = By.CLOCK,
        ring: Annotated[str, Query(description="empty: the middle one of those with a probe"), Line] = "",
    ) -> Overlay:
        """Two to four firings over one another, with how much hotter each is than the first."""
        return _or_404(lambda: book.overlay(firing, by, ring))

    @api.get("/{firing}", responses={**_NOT_FOUND, **examples.answer(OPENED)})
    def opened(firing: Firing) -> Opened:
        """One firing: how long its stages took, and all that was written down and told."""
        return _or_404(lambda: book.opened(firing))

    return api


def _or_404(ask: Callable[[], T]) -> T:
    try:
        return ask()
    except Refusal as refusal:
        if refusal.allowed == NOT_THERE:
            raise HTTPException(404, "There is no such firing in the kiln book.") from None
        raise
