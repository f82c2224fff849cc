"""Who holds the watch, and what is put aside: shelved for a while, or a probe out of service."""

from typing import Annotated

from fastapi import APIRouter, Path, Query

from spyhole.services.desk import Desk, Done
from spyhole_web import examples
from spyhole_web.shapes import (
    LARGEST,
    InReachAsked,
    Line,
    OutOfServiceAsked,
    ShelvingAsked,
    TurnAnswerAsked,
    WatchAsked,
    Who,
)

Tag = Annotated[str, Query(max_length=40, pattern=r"^[a-z-]+$", description="as in the alarm", examples=["uneven"])]
Question = Annotated[int, Path(ge=1, le=LARGEST, description="as in turn_asked", examples=[41021])]
Ring = Annotated[Line, Query(description="empty for the kiln", examples=["top"])]


def watch_routes(desk: Desk) -> APIRouter:
    """What somebody may do about the watch itself."""
    api = APIRouter(tags=["watch"])

    @api.post("/api/shelvings", responses=examples.answer(examples.DONE))
    def shelve(asked: ShelvingAsked) -> Done:
        """Put an alarm aside, with a reason and a time: at most 60 minutes, a high one 15. It is judged meanwhile."""
        return desk.shelve(asked.tag, asked.ring, asked.minutes, asked.reason, asked.who)

    @api.delete("/api/shelvings", responses=examples.answer(examples.DONE))
    def unshelve(tag: Tag, ring: Ring = "", who: Annotated[Who, Query()] = "") -> Done:
        """Take an alarm back before its time. If its condition is on, it is told at once."""
        return desk.unshelve(tag, ring or None, who)

    @api.post("/api/out-of-service", responses=examples.answer(examples.DONE))
    def take_out(asked: OutOfServiceAsked) -> Done:
        """Put the probe of a ring out of service: it raises nothing and decides nothing until it is put back."""
        return desk.take_out_of_service(asked.ring, asked.reason, asked.who)

    @api.delete("/api/out-of-service", responses=examples.answer(examples.DONE))
    def put_back(ring: Ring, who: Annotated[Who, Query()] = "") -> Done:
        """Put the probe of a ring back in service."""
        return desk.put_back(ring, who)

    @api.post("/api/watch", responses=examples.answer(examples.DONE))
    def take_watch(asked: WatchAsked) -> Done:
        """Take the watch, or give it to somebody, with a note. An empty name: nobody holds it from now on."""
        return desk.take_watch(asked.who, asked.note)

    @api.post("/api/watch/in-reach", responses=examples.answer(examples.DONE))
    def in_reach(asked: InReachAsked) -> Done:
        """Say that somebody is in reach. An empty name: whoever holds the watch."""
        return desk.in_reach(asked.who)

    @api.post("/api/turns/{question}/answer", responses=examples.answer(examples.DONE))
    def answer_turn(question: Question, asked: TurnAnswerAsked) -> Done:
        """Say whether a turn was made that curve and log tell differently. What is said is written into the log."""
        return desk.answer_turn(question, asked.said, asked.minutes_ago, asked.who)

    return api
