"""All that the watch knows at one moment, and the firing as seen from there."""

from dataclasses import dataclass, field

from spyhole.core.alarms.book import AlarmBook
from spyhole.core.alarms.rules.house import House
from spyhole.core.curve.bins import Filling
from spyhole.core.curve.heat import borrowed
from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Doubts
from spyhole.core.cutout import CutOut
from spyhole.core.duty import Duty
from spyhole.core.firing import Firing
from spyhole.core.journal import Settings
from spyhole.core.kiln import Kiln
from spyhole.core.learned import Learned
from spyhole.core.measured import Tripped, Witnessed
from spyhole.core.outcome import EstimateOutcome
from spyhole.core.plan import Plan
from spyhole.core.plans import Shelf
from spyhole.core.preparation import Preparation
from spyhole.core.timeline import Timeline
from spyhole.core.view import View

ROOM_CELSIUS = 20.0


@dataclass(frozen=True, slots=True)
class State:
    """All that the watch knows.

    minute: the last one judged slowly. fit: which probes were trusted at the last bin. house: what is remembered
    beside any firing. learned: of this kiln, from earlier firings. filed: the plan as the settings last gave it; shelf:
    all that are kept. prepared: how the kiln was made ready, for the firing that begins next.
    witnessed: what the cones of the firing before said, until it is a row of the journal; trip: likewise, of the last.
    """

    line: Timeline = field(default_factory=Timeline)
    settings: Settings | None = None
    filling: Filling = field(default_factory=Filling)
    tracks: tuple[Track, ...] = ()
    doubts: Doubts = ()
    fit: tuple[bool, ...] = ()
    firing: Firing | None = None
    alarms: AlarmBook = field(default_factory=AlarmBook)
    latest: EstimateOutcome | None = None
    duty: Duty = field(default_factory=Duty)
    cutout: CutOut = field(default_factory=CutOut)
    house: House = field(default_factory=House)
    learned: Learned = field(default_factory=Learned)
    filed: Plan | None = None
    shelf: Shelf = ()
    prepared: Preparation | None = None
    witnessed: Witnessed | None = None
    trip: Tripped | None = None
    minute: int = 0
    sequence: int = 0

    @property
    def kiln(self) -> Kiln | None:
        """The kiln as last described."""
        return None if self.settings is None else self.settings.kiln

    @property
    def faults(self) -> frozenset[str]:
        """Tags of what ails the watch itself."""
        return self.house.faults

    @property
    def out(self) -> frozenset[str]:
        """Rings whose probe is out of service."""
        return self.alarms.out_rings

    @property
    def plan(self) -> Plan | None:
        """The plan that the next firing follows."""
        return None if self.settings is None else self.settings.plan


def view_of(state: State) -> View | None:
    """The firing that was lit last, as it stands; None before any."""
    return None if state.firing is None else view_with(state, state.firing)


def view_with(state: State, firing: Firing) -> View:
    """This firing, as it is or as it is about to be, with all that the state knows beside it."""
    return View(
        state.line.now_ms,
        state.line.utc_ms,
        firing,
        state.tracks,
        state.doubts,
        state.fit,
        borrowed(state.tracks, state.fit, firing.apart) if len(firing.apart) == len(state.tracks) else (),
        state.duty,
        None if state.latest is None else state.latest.cone_down,
    )


def room_of(state: State) -> float:
    """The room [degC]: the coolest believed ring at the start, unless the kiln was lit warm."""
    seen = [t.celsius for t, fit in zip(state.tracks, state.fit, strict=True) if fit and t.celsius is not None]
    return max(-10.0, min(seen)) if seen and min(seen) < 40.0 else ROOM_CELSIUS
