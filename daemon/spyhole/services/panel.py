"""The panel of a rehearsal: what a hand may do to the emulated kiln, and what hands have done."""

import threading
from collections import deque
from collections.abc import Callable

from spyhole.core.exercises import Act, Handled
from spyhole.core.ports import RehearsalPort
from spyhole.core.refusal import Refusal
from spyhole.services.snapshot import PanelView

KEPT = 1000
PRESS_SECONDS = 0.2
"""For how long a finger stays on the button at the kiln."""


class Panel:
    """rehearsal: None on a real kiln, where every act is refused and there is nothing to see. now_ms: the kiln's clock.

    press: moves the emulated button, None where none is wired. changed: called after each act.
    """

    def __init__(self, rehearsal: RehearsalPort | None, now_ms: Callable[[], int], changed: Callable[[], None]) -> None:
        self._rehearsal = rehearsal
        self._now_ms = now_ms
        self._changed = changed
        self._pressing = threading.Lock()
        self.press: Callable[[bool], None] | None = None
        self.acts: deque[Act] = deque(maxlen=KEPT)

    @property
    def rehearsal(self) -> RehearsalPort:
        """The emulated kiln; Refusal on a real one."""
        if self._rehearsal is None:
            raise Refusal("panel", "only a rehearsal has a panel")
        return self._rehearsal

    def throw(self, trouble: str) -> None:
        """Throw a trouble in."""
        self._do("trouble", Handled("trouble", "", trouble), lambda: self.rehearsal.throw(trouble))

    def turn(self, ring: str, setting: str) -> None:
        """Turn a switch of the emulated kiln."""
        self._do("switch", Handled("switch", ring, setting), lambda: self.rehearsal.turn(ring, setting))

    def set_lid(self, lid: str) -> None:
        """Move the lid."""
        self._do("lid", Handled("lid", "", lid), lambda: self.rehearsal.set_lid(lid))

    def set_plugs(self, plugs: str) -> None:
        """Move all plugs."""
        self._do("plugs", Handled("plugs", "", plugs), lambda: self.rehearsal.set_plugs(plugs))

    def wind(self, minutes: float) -> None:
        """Wind the backup timer."""
        self._do("timer", Handled("timer", "", f"{minutes:g}"), lambda: self.rehearsal.wind(minutes))

    def isolate(self) -> None:
        """Isolate at the wall, until everything is mended."""
        self._do("isolate", Handled("isolate"), self.rehearsal.isolate)

    def look(self, how: str) -> tuple[tuple[str, float], ...]:
        """Look at the kiln, `glasses` or `bare` through the spyhole, or at its `switches`; (cone, bend) of the pack."""
        self._do("look", Handled("look", "", how), lambda: None)
        return self.rehearsal.look() if how != "switches" else ()

    def push_button(self) -> None:
        """Press the button at the kiln for a moment; Refusal where there is none."""
        press = self.press
        if self._rehearsal is None or press is None:
            raise Refusal("button", "no button is wired here")
        with self._pressing:
            press(True)
            threading.Event().wait(PRESS_SECONDS)
            press(False)
        self._changed()

    def set_speed(self, speed: float) -> None:
        """Kiln seconds a second, at most."""
        try:
            self.rehearsal.set_speed(speed)
        except ValueError as error:
            raise Refusal("speed", str(error)) from None
        self._changed()

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
            plugs=view.plugs,
            button=self.press is not None,
        )

    def _do(self, field: str, done: Handled, act: Callable[[], object]) -> None:
        try:
            act()
        except ValueError as error:
            raise Refusal(field, str(error)) from None
        self.acts.append(Act(self._now_ms(), done))
        self._changed()
