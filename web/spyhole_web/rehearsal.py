"""The panel of the emulated kiln. These addresses exist in a rehearsal only."""

from typing import Literal

from fastapi import APIRouter
from pydantic import BaseModel, Field

from spyhole.core.cones.kinetics import bend_words
from spyhole.services.panel import Panel
from spyhole_web.shapes import Asked, PanelSwitchAsked, SpeedAsked, Taken, TroubleAsked


class LidAsked(Asked):
    """Where the lid is to be."""

    lid: Literal["closed", "cracked", "propped", "open"] = Field(examples=["cracked"])


class PlugsAsked(Asked):
    """Where all plugs are to be."""

    plugs: Literal["in", "half", "out"] = Field(examples=["out"])


class WindAsked(Asked):
    """How far the backup timer is wound."""

    minutes: float = Field(strict=True, ge=0, le=1440, allow_inf_nan=False, examples=[90])


class LookAsked(Asked):
    """How somebody looks: through the spyhole with infrared-rated glasses or bare, or at the switches."""

    how: Literal["glasses", "bare", "switches"] = Field(examples=["glasses"])


class ConeSeen(BaseModel):
    """One cone of the pack, and how far it is bent [degrees]: upright at 8."""

    cone: str = Field(examples=["05"])
    bend_degrees: float = Field(examples=[61.5])
    words: str = Field(examples=["half over"])


class PackSeen(BaseModel):
    """What was seen: each cone; none when the switches were looked at."""

    cones: list[ConeSeen]


def rehearsal_routes(panel: Panel) -> APIRouter:
    """What a hand at the emulated kiln can do."""
    api = APIRouter(prefix="/api/rehearsal", tags=["rehearsal"])

    @api.post("/trouble")
    def trouble(asked: TroubleAsked) -> Taken:
        """Throw a trouble in, or `none`."""
        panel.throw(asked.name)
        return Taken()

    @api.post("/switch")
    def switch(asked: PanelSwitchAsked) -> Taken:
        """Turn a switch of the emulated kiln; its keeper lets go."""
        panel.turn(asked.ring, asked.setting.value)
        return Taken()

    @api.post("/speed")
    def speed(asked: SpeedAsked) -> Taken:
        """How fast the kiln's clock runs, at most."""
        panel.set_speed(asked.speed)
        return Taken()

    @api.post("/lid")
    def lid(asked: LidAsked) -> Taken:
        """Move the lid of the emulated kiln."""
        panel.set_lid(asked.lid)
        return Taken()

    @api.post("/plugs")
    def plugs(asked: PlugsAsked) -> Taken:
        """Move the plugs of the emulated kiln, all of them."""
        panel.set_plugs(asked.plugs)
        return Taken()

    @api.post("/timer")
    def timer(asked: WindAsked) -> Taken:
        """Wind the backup timer of the emulated kiln, as far as its dial goes."""
        panel.wind(asked.minutes)
        return Taken()

    @api.post("/isolation")
    def isolate() -> Taken:
        """Isolate the emulated kiln at the wall, until everything is mended."""
        panel.isolate()
        return Taken()

    @api.post("/look")
    def look(asked: LookAsked) -> PackSeen:
        """Look at the emulated kiln: what the cones really do, which the watch can only work out."""
        seen = panel.look(asked.how)
        return PackSeen(
            cones=[ConeSeen(cone=cone, bend_degrees=round(bend, 1), words=bend_words(bend)) for cone, bend in seen]
        )

    @api.post("/button")
    def button() -> Taken:
        """Press the emulated button at the kiln for a moment."""
        panel.push_button()
        return Taken()

    return api
