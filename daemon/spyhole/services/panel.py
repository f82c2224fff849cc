"""The panel of a rehearsal: what a visitor may do to the emulated kiln."""

from spyhole.core.ports import RehearsalPort
from spyhole.core.refusal import Refusal
from spyhole.services.snapshot import PanelView


class Panel:
    """rehearsal: None on a real kiln, where every act is refused and there is nothing to see."""

    def __init__(self, rehearsal: RehearsalPort | None) -> None:
        self._rehearsal = rehearsal

    def throw(self, trouble: str) -> None:
        """Throw a trouble in."""
        try:
            self._there().throw(trouble)
        except ValueError as error:
            raise Refusal("trouble", str(error)) from None

    def turn(self, ring: str, setting: str) -> None:
        """Turn a switch of the emulated kiln."""
        try:
            self._there().turn(ring, setting)
        except ValueError as error:
            raise Refusal("switch", str(error)) from None

    def set_speed(self, speed: float) -> None:
        """Kiln seconds a second, at most."""
        try:
            self._there().set_speed(speed)
        except ValueError as error:
            raise Refusal("speed", str(error)) from None

    def view(self) -> PanelView | None:
        """What it shows; None on a real kiln."""
        if self._rehearsal is None:
            return None
        view = self._rehearsal.view()
        return PanelView(
            speed=view.speed,
            switches=view.switches,
            troubles=self._rehearsal.troubles(),
            trouble=view.trouble,
            keeper=view.keeper,
            shutoff_tripped=view.shutoff_tripped,
            power=view.power,
            lid=view.lid,
            timer_minutes_left=view.timer_minutes_left,
        )

    def _there(self) -> RehearsalPort:
        if self._rehearsal is None:
            raise Refusal("panel", "only a rehearsal has a panel")
        return self._rehearsal
