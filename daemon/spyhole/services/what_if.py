"""What a firing of the book would have been, had it been fired otherwise; and what that changes, in words."""

from collections.abc import Callable
from dataclasses import dataclass

from spyhole.core.forms.plan_toml import followed
from spyhole.core.overlay import By, Laid, against_first, grid, lay
from spyhole.core.plans_course import heat_believed, teacher_of
from spyhole.core.refusal import Refusal
from spyhole.core.report.sentences import hours_words
from spyhole.core.report.tariff import Tariff
from spyhole.core.state import State
from spyhole.core.what_if import Otherwise, Run, run
from spyhole.core.words import Manner
from spyhole.services.archive import Records
from spyhole.services.book import NOT_THERE

POINTS = 240


@dataclass(frozen=True, slots=True)
class RunView:
    """One run of the model. celsius: of the reference ring, as long as the answer's hours; None after its end.

    down_hours, off_hours: cone down and end of heating, from lighting; None: never.
    """

    cone: str
    celsius: list[float | None]
    against_first: list[float | None]
    down_hours: float | None
    off_hours: float | None
    peak_celsius: float
    kwh: float | None


@dataclass(frozen=True, slots=True)
class WhatIfView:
    """runs: as its plan says, then otherwise. stages: the names of those that have hours."""

    firing: int
    ring: str
    hours: list[float]
    runs: list[RunView]
    stages: list[str]
    words: str


class WhatIf:
    """Of one kiln. state: of the watch now, for what was learned of the kiln since."""

    def __init__(
        self, records: Records, kiln: str, manner: Manner, tariff: Tariff | None, state: Callable[[], State]
    ) -> None:
        self._records = records
        self._kiln = kiln
        self._manner = manner
        self._tariff = tariff
        self._state = state

    def view(self, firing: int, otherwise: Otherwise, stage: str = "") -> WhatIfView:
        """stage: whose hours change, "" for the first that has any. Refusal where it cannot be fired so."""
        kept = self._records.firing(self._kiln, firing)
        if kept is None:
            raise Refusal("firing", "there is no such firing in the kiln book", NOT_THERE)
        kiln, plan = followed(kept.kiln_toml, kept.plan_toml)
        timed = [number for number, each in enumerate(plan.stages) if each.hours is not None]
        named = [number for number in timed if stage in ("", plan.stages[number].name)]
        if otherwise.later_hours and not named:
            allowed = ", ".join(plan.stages[number].name for number in timed) or "none of this plan"
            raise Refusal("stage", "no stage with hours is called this", f"there are {allowed}")
        place = named[0] if named else 0
        learned = self._state().learned
        heat = heat_believed(kiln, teacher_of((plan,)), learned)
        room = 20.0
        first = run(heat, kiln, plan, learned, Otherwise(), room)
        other = run(
            heat, kiln, plan, learned, Otherwise(otherwise.later_hours, place, otherwise.load, otherwise.cones), room
        )
        ring = plan.reference_ring
        laid = [
            Laid(each.course.hours, ("",) * len(each.course.hours), each.course.rings[ring]) for each in (first, other)
        ]
        hours = grid(laid, By.CLOCK, POINTS)
        over = lay(laid, By.CLOCK, hours)
        apart = against_first(over)
        return WhatIfView(
            firing=firing,
            ring=kiln.rings[ring].name,
            hours=[round(hour, 4) for hour in hours],
            runs=[_view(one, c, a) for one, c, a in zip((first, other), over, apart, strict=True)],
            stages=[plan.stages[number].name for number in timed],
            words=self._words(first, other),
        )

    def _words(self, first: Run, other: Run) -> str:
        """What changes: the end, the peak, the energy."""
        was, then = first.course.off_hours, other.course.off_hours
        if then is None:
            return "Fired so, this kiln would not reach the end of its plan."
        said = [f"Heating would end after {hours_words(then)}"]
        if was is not None:
            apart = then - was
            way = "later" if apart > 0 else "sooner"
            said[0] += f", {hours_words(abs(apart))} {way}" if abs(apart) >= 1 / 60 else ", as before"
        warmer = other.peak_celsius - first.peak_celsius
        if abs(warmer) >= 1.0:
            by, way = self._manner.difference(warmer), "hotter" if warmer > 0 else "cooler"
            said.append(f"the deciding ring would peak about {by} {way}")
        if first.kwh is not None and other.kwh is not None:
            more = other.kwh - first.kwh
            used = f"about {abs(more):.0f} kWh {'more' if more > 0 else 'less'}"
            if self._tariff is not None:
                used += f", {abs(more) * self._tariff.per_kwh:.2f} {self._tariff.currency} by day"
            said.append(used if abs(more) >= 0.5 else "about the same energy")
        return "; ".join(said) + "."


def _view(one: Run, celsius: tuple[float | None, ...], apart: tuple[float | None, ...]) -> RunView:
    return RunView(
        cone=one.plan.cone,
        celsius=[None if each is None else round(each, 1) for each in celsius],
        against_first=[None if each is None else round(each, 1) for each in apart],
        down_hours=_rounded(one.course.down_hours),
        off_hours=_rounded(one.course.off_hours),
        peak_celsius=round(one.peak_celsius, 1),
        kwh=_rounded(one.kwh),
    )


def _rounded(value: float | None) -> float | None:
    return None if value is None else round(value, 3)
