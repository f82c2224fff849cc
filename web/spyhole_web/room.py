"""What is wired in the room. These addresses exist only where something is."""

from fastapi import APIRouter

from spyhole.services.desk import Desk, Done
from spyhole_web import examples
from spyhole_web.shapes import AcknowledgementAsked


def room_routes(desk: Desk) -> APIRouter:
    """What somebody may do about it from the page."""
    api = APIRouter(prefix="/api/room", tags=["room"])

    @api.post("/cut-out", responses=examples.answer(examples.DONE))
    def arm(asked: AcknowledgementAsked) -> Done:
        """Let the cut-out heartbeat run again. Refused while the alarm that stopped it holds, or readings do not come.

        The relay outside is reset by hand, at the relay.
        """
        return desk.rearm(asked.who)

    return api
