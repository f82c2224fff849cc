"""What the inner rooms need from the outer ones. Hardware, store, channels and the clock satisfy these."""

from dataclasses import dataclass
from enum import StrEnum
from typing import Protocol, runtime_checkable

from spyhole.core.drawn import Drawn
from spyhole.core.moment import Moment
from spyhole.core.reading import Reading


class ClockPort(Protocol):
    """A clock that can be real, a rehearsal's, or a test's."""

    def now(self) -> Moment:
        """This instant."""
        ...

    def wait_until(self, monotonic_ms: int) -> None:
        """Return once the monotonic clock has reached this, or the clock is being stopped."""
        ...


class ProbesPort(Protocol):
    """Every probe of one kiln, read together. One thread owns it."""

    def read(self) -> Reading:
        """One conversion of every channel, bounded in time; never raises for what a bus or probe can do."""
        ...

    def close(self) -> None:
        """Let go of the bus."""
        ...


class CurrentPort(Protocol):
    """The current transformers of one kiln. The thread that owns the probes owns it too: they share a bus."""

    @property
    def fitted(self) -> frozenset[int]:
        """The rings that have one, by their places from the bottom."""
        ...

    def read(self) -> Drawn:
        """What each ring draws now, bounded in time (a quarter of a second); never raises for what a bus can do."""
        ...


class Answer(StrEnum):
    """What came of an attempt. refused: for what it is (no such address, a wrong key); trying again will not help."""

    ACCEPTED = "accepted"
    NOT_NOW = "not-now"
    REFUSED = "refused"


class MessengerPort(Protocol):
    """Carries messages to one recipient. One thread uses it."""

    def prepare(self) -> None:
        """Load what a message will need, while there is time."""
        ...

    def send(self, title: str, text: str, *, urgent: bool) -> Answer:
        """One attempt, bounded in time."""
        ...


@dataclass(frozen=True, slots=True)
class Enclosure:
    """A file that goes with a message."""

    name: str
    media_type: str
    content: bytes


@runtime_checkable
class EnclosingPort(MessengerPort, Protocol):
    """A messenger that may carry a file too."""

    def send_with(self, title: str, text: str, enclosed: Enclosure, *, urgent: bool) -> Answer:
        """One attempt, bounded in time; the text alone where this service carries no files."""
        ...


class Wire(StrEnum):
    """What spyhole drives in the room."""

    SOUNDER = "sounder"
    LAMP = "lamp"
    CUT_OUT = "cut-out"


class OutputsPort(Protocol):
    """The lines that are driven. One thread owns them."""

    def drive(self, wire: Wire, on: bool) -> None:
        """Put the line of this wire, if there is one, to this level; OSError when it does not take it."""
        ...

    def close(self) -> None:
        """Let go of every line; never raises."""
        ...


class InputsPort(Protocol):
    """The button at the kiln. One thread, the same, owns it."""

    def wait(self, seconds: float) -> bool:
        """Wait until the button moves, or so long; whether it moved. OSError when the line is gone."""
        ...

    def pressed(self) -> bool:
        """Whether it is down now; False where there is none. OSError when the line is gone."""
        ...


class RoomPort(OutputsPort, InputsPort, Protocol):
    """All lines in the room."""


class RehearsalPort(Protocol):
    """The emulated kiln's panel. Only a rehearsal has one."""

    def troubles(self) -> tuple[str, ...]:
        """Names of the troubles that may be thrown in."""
        ...

    def throw(self, trouble: str) -> None:
        """Throw one in; ValueError naming those there are."""
        ...

    def turn(self, ring: str, setting: str) -> None:
        """Turn a switch of the emulated kiln by hand; from then on the automatic keeper keeps off."""
        ...

    def set_lid(self, lid: str) -> None:
        """closed, cracked, propped, open; ValueError for another word."""
        ...

    def set_plugs(self, plugs: str) -> None:
        """All of them: in, half, out; ValueError for another word."""
        ...

    def wind(self, minutes: float) -> None:
        """Wind the timer."""
        ...

    def isolate(self) -> None:
        """No mains at all, until everything is mended."""
        ...

    def look(self) -> tuple[tuple[str, float], ...]:
        """(cone, how far it is bent [degrees]) of the pack behind the spyhole."""
        ...

    def hand_back(self) -> None:
        """The automatic keeper minds the switches again."""
        ...

    def expect(self, trouble: str) -> None:
        """Throw this in when it hurts; ValueError naming those there are."""
        ...

    def fire_again(self) -> None:
        """Load and light it anew; ValueError while it is not unloaded yet."""
        ...

    def set_speed(self, speed: float) -> None:
        """Kiln seconds a second at most, 1 to 3600."""
        ...

    def view(self) -> "RehearsalView":
        """How the emulated kiln stands, for the panel."""
        ...


class RehearsalView(Protocol):
    """What the panel shows of the emulated kiln: never fed to the watch."""

    @property
    def speed(self) -> float: ...

    @property
    def switches(self) -> tuple[tuple[str, str], ...]: ...

    @property
    def trouble(self) -> str: ...

    @property
    def keeper(self) -> bool: ...

    @property
    def shutoff_tripped(self) -> bool: ...

    @property
    def power(self) -> bool: ...

    @property
    def lid(self) -> str: ...

    @property
    def timer_minutes_left(self) -> float: ...

    @property
    def plugs(self) -> str: ...

    @property
    def unloaded(self) -> bool: ...

    @property
    def over(self) -> bool: ...
