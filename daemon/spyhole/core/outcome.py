"""What the watch concludes from a row. Facts only: sentences are made outside the fold (`core.words`)."""

from dataclasses import dataclass
from enum import StrEnum

from spyhole.core.kiln import Switch


class Priority(StrEnum):
    """How soon somebody must act."""

    HIGH = "high"
    MEDIUM = "medium"
    LOW = "low"


class Action(StrEnum):
    """An alarm comes or goes."""

    RAISE = "raise"
    CLEAR = "clear"


Facts = tuple[tuple[str, float | str | int | None], ...]
"""Named numbers and words for the sentence: degC, degC per hour, minutes, cone names, utc_ms."""


@dataclass(frozen=True, slots=True)
class AlarmOutcome:
    """An alarm raised or cleared.

    episode: one id an episode; consequences join the episode of their cause.
    tell: whether this outcome sends a message (the first of an episode, or a worse level).
    ring: None means the kiln.
    """

    utc_ms: int
    episode: str
    tag: str
    ring: str | None
    priority: Priority
    action: Action
    tell: bool
    facts: Facts


@dataclass(frozen=True, slots=True)
class PromptOutcome:
    """Something worth saying that is no alarm: a turn is due, the cone is down, the lid may be cracked."""

    utc_ms: int
    tag: str
    facts: Facts


@dataclass(frozen=True, slots=True)
class Forecast:
    """An instant between low and high at 80 %, all utc_ms."""

    low: int
    median: int
    high: int


@dataclass(frozen=True, slots=True)
class RingEstimate:
    """One ring, filtered. None: cannot be known now. celsius has the probe's offset applied.

    climb: degC per hour. alpha: heat work of the firing cone at this ring, 1 = down.
    """

    name: str
    celsius: float | None
    climb: float | None
    switch: Switch
    switch_sure: bool
    alpha: float | None


@dataclass(frozen=True, slots=True)
class ConeEstimate:
    """One cone by the reference ring's heat work. bend_degrees: 8 (upright) to 90 (down), None for the shut-off."""

    role: str
    cone: str
    alpha: float
    bend_degrees: float | None


@dataclass(frozen=True, slots=True)
class TimerEstimate:
    """The backup timer: when it ends as last wound, and how many minutes from now it ought to have."""

    ends: int | None
    advised_minutes: int | None


class Why(StrEnum):
    """Why a forecast is another than it was."""

    SWITCH = "switch"
    TURN = "turn"
    POWER = "power"
    LID = "lid"
    PLUGS = "plugs"
    CONE = "cone"
    TRIP = "trip"
    PROBE = "probe"
    SLOWER = "slower"
    FASTER = "faster"


@dataclass(frozen=True, slots=True)
class Moved:
    """The forecast of the cone was set by so many minutes (later is positive) in one go, and why."""

    utc_ms: int
    minutes: int
    why: Why


@dataclass(frozen=True, slots=True)
class EstimateOutcome:
    """The watch's view, once a minute while a firing is on.

    cones: guide, firing, guard, shutoff, as far as the chart has them.
    cool: (200, forecast), (100, forecast), (50, forecast).
    ceiling_celsius: what no ring should pass in this stage. progress_between: low and high end of cone_progress at
    80 %. moved: the last move of cone_down that has to be explained. trusted: how many probes were believed. These are
    drawn on the page and no part of the outcomes file.
    """

    utc_ms: int
    stage: str
    heating: bool
    rings: tuple[RingEstimate, ...]
    cones: tuple[ConeEstimate, ...]
    cone_progress: float | None
    bend_degrees: float | None
    next_turn: Forecast | None
    cone_down: Forecast | None
    shut_off: Forecast | None
    timer: TimerEstimate | None
    cool: tuple[tuple[int, Forecast | None], ...]
    ceiling_celsius: float | None
    progress_between: tuple[float, float] | None = None
    moved: Moved | None = None
    trusted: int = 0


Outcome = AlarmOutcome | PromptOutcome | EstimateOutcome
