"""The kiln book: leafed through, searched, opened, and firings laid over one another."""

from collections.abc import Callable
from typing import Annotated, TypeVar

from fastapi import APIRouter, HTTPException, Path, Query
from pydantic import Field

from spyhole.core.overlay import By
from spyhole.core.refusal import Refusal
from spyhole.core.what_if import Otherwise
from spyhole.services.book import NOT_THERE, Book, BookPage, Opened, Overlay
from spyhole.services.what_if import WhatIf, WhatIfView
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
_RUN = {"cone": "05", "celsius": [20.0, 45.1], "against_first": [0.0, 0.0], "down_hours": 16.9, "off_hours": 17.0}
WHAT_IF: examples.Example = {
    "firing": 1,
    "ring": "middle",
    "hours": [0.0, 1.0],
    "runs": [
        {**_RUN, "peak_celsius": 1031.0, "kwh": 52.1},
        {**_RUN, "cone": "04", "against_first": [0.0, None], "off_hours": 17.6, "peak_celsius": 1060.2, "kwh": 56.0},
    ],
    "stages": ["candling", "low", "medium"],
    "words": "Heating would end after 17 h 36, 36 min later; the deciding ring would peak about 29 hotter; about 4 kWh "
    "more.",
}
_NOT_FOUND: examples.Responses = {404: {**DOCUMENTED[500], "description": "There is no such firing."}}
Firing = Annotated[int, Path(ge=1, le=LARGEST, description="as in the kiln book")]
T = TypeVar("T")


def book_routes(book: Book, what_if: WhatIf) -> APIRouter:
    """For every kiln that keeps a record."""
    api = APIRouter(prefix="/api/book", tags=["kiln book"])

    @api.get("", responses=examples.answer(PAGE))
    def page(
        newest: Annotated[int, Query(ge=1, le=100, description="at most so many")] = 20,
        before: Annotated[int | None, Query(ge=1, le=LARGEST, description="only those before this one")] = None,
        words: Annotated[Line, Query(description="plan, cone, year, outcome, or what was noted")] = "",
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
        ring: Annotated[Line, Query(description="empty: the middle one of those with a probe")] = "",
    ) -> Overlay:
        """Two to four firings over one another, with how much hotter each is than the first."""
        return _or_404(lambda: book.overlay(firing, by, ring))

    @api.get("/{firing}/what-if", responses={**_NOT_FOUND, **examples.answer(WHAT_IF)})
    def otherwise(
        firing: Firing,
        later_hours: Annotated[float, Query(ge=-12, le=24, allow_inf_nan=False, description="a stage longer by")] = 0.0,
        stage: Annotated[Line, Query(description="which; empty: the first that has hours")] = "",
        load: Annotated[float, Query(ge=0.1, le=2, allow_inf_nan=False, description="of what was loaded")] = 1.0,
        cones: Annotated[int, Query(ge=0, le=3, description="whole cones hotter")] = 0,
    ) -> WhatIfView:
        """What it would have been by the kiln's model: a stage longer, another load, a hotter cone."""
        return _or_404(lambda: what_if.view(firing, Otherwise(later_hours, 0, load, cones), stage))

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
