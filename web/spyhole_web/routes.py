"""The interface: nouns of the trade, one small function each. What asks the desk runs off the loop."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query, Response
from fastapi.responses import JSONResponse, StreamingResponse

from spyhole.services.desk import Curve, Desk, Done
from spyhole.services.snapshot import Snapshot
from spyhole_web import examples
from spyhole_web.live import Live
from spyhole_web.metrics import MEDIA_TYPE, exposition
from spyhole_web.problems import DOCUMENTED, problem
from spyhole_web.shapes import LARGEST, AcknowledgementAsked, EntryAsked, Health, KilnBook, Who

TICKS_BEFORE_STALE = 3
SECONDS_BEFORE_STALE = 5.0

_NOT_FOUND: examples.Responses = {404: {**DOCUMENTED[500], "description": "There is no such thing here."}}
_STALE: examples.Responses = {503: {**DOCUMENTED[500], "description": "No reading has come lately."}}

_METRICS: examples.Responses = {
    200: {"description": "As it stands.", "content": {"text/plain": {"schema": {"type": "string"}}}}
}

Sequence = Annotated[int, Path(ge=1, le=LARGEST, description="the sequence of the entry")]
Episode = Annotated[str, Path(max_length=40, pattern=r"^[A-Za-z0-9_-]+$", description="as in the alarm")]


def routes(desk: Desk, live: Live) -> APIRouter:
    """All of the interface that every kiln has."""
    api = APIRouter(tags=["kiln"])

    @api.get("/api/now", responses=examples.answer(examples.NOW))
    def now() -> Snapshot:
        """All of Now: sentence, rings, cones, alarms, what to do next."""
        return desk.now()

    @api.get("/api/live", response_class=StreamingResponse, responses=examples.STREAM)
    async def follow() -> StreamingResponse:
        """Server-sent events named `now`, each the same object as /api/now: the latest, at most about four a second."""
        return live.response()

    @api.get("/api/curve", responses={**_NOT_FOUND, **examples.answer(examples.CURVE)})
    def curve(
        firing: Annotated[int | None, Query(ge=1, le=LARGEST, description="none: under way, or the last")] = None,
        points: Annotated[int, Query(ge=10, le=10_000, description="about how many instants at most")] = 1500,
    ) -> Curve:
        """The curve of a firing, thinned with the highest and lowest kept."""
        found = desk.curve(firing, points)
        if found is None:
            raise HTTPException(404, "There is no such firing in the kiln book.")
        return found

    @api.get("/api/firings", responses=examples.answer(examples.BOOK))
    def firings(
        newest: Annotated[int, Query(ge=1, le=1000, description="at most so many")] = 50,
        before: Annotated[int | None, Query(ge=1, le=LARGEST, description="only those before this one")] = None,
    ) -> KilnBook:
        """A page of the kiln book. The next page is asked for with the id of the last firing on this one."""
        return KilnBook(firings=desk.firings(newest, before), total=desk.firing_count())

    @api.post("/api/alarms/{episode}/acknowledgement", responses=examples.answer(examples.DONE))
    def acknowledge(episode: Episode, asked: AcknowledgementAsked) -> Done:
        """Somebody has seen this alarm and minds it."""
        return desk.acknowledge(episode, asked.who)

    @api.post("/api/alarms/{episode}/reset", responses=examples.answer(examples.DONE))
    def reset(episode: Episode, asked: AcknowledgementAsked) -> Done:
        """Put a latched alarm back to normal, once it is over and acknowledged."""
        return desk.reset(episode, asked.who)

    @api.post("/api/entries", responses=examples.answer(examples.DONE))
    def enter(asked: EntryAsked) -> Done:
        """Write down what was done or seen."""
        return desk.enter(asked.kind.value, asked.subject, asked.value, asked.who, asked.minutes_ago)

    @api.delete("/api/entries/{sequence}", responses=examples.answer(examples.DONE))
    def undo(sequence: Sequence, who: Annotated[Who, Query()] = "") -> Done:
        """Take an entry back. Both stay in the record."""
        return desk.undo(sequence, who)

    @api.get("/metrics", response_class=Response, responses=_METRICS)
    def metrics() -> Response:
        """Temperatures, climbs, alarms and troubles of the watch, in the text form of Prometheus. By token."""
        return Response(exposition(desk.now(), live.silent_seconds), media_type=MEDIA_TYPE)

    @api.get("/healthz", response_model=Health, responses=_STALE)
    async def healthz() -> Response:
        """200 while readings come, faulty ones included: a probe may fail, the watch may not."""
        seen = desk.now()
        silent = live.silent_seconds
        longest = max(SECONDS_BEFORE_STALE, TICKS_BEFORE_STALE * seen.tick_seconds / max(seen.speed, 1.0))
        if silent > longest:
            return problem(503, f"No reading for {silent:.0f} seconds. The watch stands still: go to the kiln.")
        return JSONResponse(Health(kiln=seen.kiln, silent_seconds=round(silent, 1)).model_dump())

    return api
