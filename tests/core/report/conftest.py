"""Invented firings of two rings, a minute at a time, so that every figure can be worked out by hand."""

from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise

import pytest

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.outcome import Action, AlarmOutcome, Priority, PromptOutcome
from spyhole.core.plan import Cooling, CoolingLimit, Plan, Stage
from spyhole.core.report.story import Happening, Point, Story

LIT = 1_951_155_600_000
MINUTE = 60_000
HOUR = 3_600_000
KILN = Kiln("Puffin", 1290.0, (Ring("bottom", 3000.0, Probe()), Ring("top", 2000.0, Probe())))
PLAN = Plan(
    name="Bisque, cone 05",
    cone="05",
    shutoff_cone="05",
    reference_ring=0,
    stages=(
        Stage("low", (Switch.LOW, Switch.OFF), hours=4.0),
        Stage("high", (Switch.HIGH, Switch.HIGH), until_cone=True),
    ),
    cooling=Cooling(limits=(CoolingLimit(620.0, 540.0, 150.0),)),
)


def ramp(*corners: tuple[float, float]) -> list[float]:
    """degC at the middle of each minute, straight between (hour, degC) corners."""
    made = []
    minute = 0
    while (hour := (minute + 0.5) / 60) < corners[-1][0]:
        (h0, c0), (h1, c1) = next(pair for pair in pairwise(corners) if pair[0][0] <= hour < pair[1][0])
        made.append(c0 + (c1 - c0) * (hour - h0) / (h1 - h0))
        minute += 1
    return made


FIRED = ramp((0.0, 20.0), (4.0, 120.0), (14.0, 1040.0), (24.0, 40.0))
"""Four hours on low, ten at 92 degC an hour to 1040, and down at 100 an hour."""


def written(hour: float, kind: EntryKind, subject: str, value: str, who: str = "Ada") -> Happening:
    return Happening(LIT + round(hour * HOUR), round(hour * 1000) + 1, Entry(kind, subject, value, who))


def alarm(hour: float, tag: str, ring: str | None = None, action: Action = Action.RAISE, **facts: float) -> Happening:
    at = LIT + round(hour * HOUR)
    told = AlarmOutcome(at, "a1", tag, ring, Priority.HIGH, action, True, tuple(facts.items()))
    return Happening(at, round(hour * 1000) + 1, told)


def prompted(hour: float, tag: str, **facts: float) -> Happening:
    at = LIT + round(hour * HOUR)
    return Happening(at, round(hour * 1000) + 1, PromptOutcome(at, tag, tuple(facts.items())))


LOGGED = (
    written(0.0, EntryKind.START, "", "05"),
    written(0.0, EntryKind.SWITCH, "bottom", "low"),
    written(0.0, EntryKind.SWITCH, "top", "off"),
    written(4.0, EntryKind.SWITCH, "bottom", "high"),
    written(4.0, EntryKind.SWITCH, "top", "high"),
    written(14.0, EntryKind.SHUTOFF, "", "tripped"),
)

Tell = Callable[..., Story]


@pytest.fixture
def tell() -> Tell:
    """A story: each ring's degC by the minute (None: nothing believed), and what happened."""

    def made(
        *rings: Sequence[float | None],
        happenings: Sequence[Happening] = LOGGED,
        tripped: float | None = 14.0,
        plan: Plan = PLAN,
        kiln: Kiln = KILN,
    ) -> Story:
        rings = rings or (FIRED, [celsius - 10.0 for celsius in FIRED])
        points = tuple(
            Point(LIT + minute * MINUTE + MINUTE // 2, _stage(minute / 60, plan), 1080.0, values, values, values)
            for minute, values in enumerate(zip(*rings, strict=True))
        )
        story = Story(1, kiln, plan, LIT, None, None, points, tuple(sorted(happenings, key=lambda one: one.utc_ms)))
        return story if tripped is None else replace(story, tripped_utc_ms=LIT + round(tripped * HOUR))

    return made


def _stage(hour: float, plan: Plan) -> str:
    return plan.stages[0].name if hour < 4.0 or len(plan.stages) == 1 else plan.stages[1].name


@pytest.fixture
def lit() -> int:
    return LIT


@pytest.fixture
def note() -> Callable[..., Happening]:
    return written


@pytest.fixture
def raised() -> Callable[..., Happening]:
    return alarm


@pytest.fixture
def prompt() -> Callable[..., Happening]:
    return prompted


@pytest.fixture
def climbs() -> Callable[..., list[float]]:
    return ramp


@pytest.fixture
def logged() -> tuple[Happening, ...]:
    return LOGGED
