"""The panel of the emulated kiln. These addresses exist in a rehearsal only."""

from fastapi import APIRouter

from spyhole.services.desk import Desk
from spyhole_web.shapes import PanelSwitchAsked, SpeedAsked, Taken, TroubleAsked


def rehearsal_routes(desk: Desk) -> APIRouter:
    """What a hand at the emulated kiln can do."""
    api = APIRouter(prefix="/api/rehearsal", tags=["rehearsal"])

    @api.post("/trouble")
    def trouble(asked: TroubleAsked) -> Taken:
        """Throw a trouble in, or `none`."""
        desk.throw_trouble(asked.name)
        return Taken()

    @api.post("/switch")
    def switch(asked: PanelSwitchAsked) -> Taken:
        """Turn a switch of the emulated kiln; its keeper lets go."""
        desk.turn_panel_switch(asked.ring, asked.setting.value)
        return Taken()

    @api.post("/speed")
    def speed(asked: SpeedAsked) -> Taken:
        """How fast the kiln's clock runs, at most."""
        desk.set_panel_speed(asked.speed)
        return Taken()

    return api
