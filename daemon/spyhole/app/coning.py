"""What `spyhole cones` answers: where cones go down at a climb, what a soak does, how far a cone bends."""

from collections.abc import Iterator
from dataclasses import dataclass
from math import isfinite

from spyhole.core.cones.doubt import alpha_between, end_point_between, offset_prior
from spyhole.core.cones.kinetics import (
    FASTEST_CELSIUS_PER_HOUR,
    SLOWEST_CELSIUS_PER_HOUR,
    Cone,
    alpha_words,
    bend_degrees,
    cone,
    cone_names,
    end_point_celsius,
    guard_of,
    guide_of,
)
from spyhole.core.cones.large import large_cone
from spyhole.core.cones.shutoff import down_between
from spyhole.core.cones.soak import SOAK_FACTOR, Climb, alpha_after, peak_celsius, soak_minutes, soak_worth_celsius
from spyhole.core.cones.tolerance import CLASSES, tolerance_celsius, within_class
from spyhole.core.kiln import Probe
from spyhole.core.plan import Body
from spyhole.core.refusal import Refusal

SLOWEST_ANSWERED, FASTEST_ANSWERED = 1.0, 1000.0
"""degC/h: beyond these nobody fires, and the law says nothing."""
COLDEST, HOTTEST = 0.0, 1500.0
LONGEST_SOAK_MINUTES = 24 * 60.0
EARLIER_CELSIUS = 300.0
"""Heat work further below a cone's end than this does not count."""
FAHRENHEIT = 1.8


@dataclass(frozen=True, slots=True)
class Question:
    """What was asked, in the unit it was asked in. cone "": a table of all of them."""

    climb: float
    cone: str = ""
    soak: float | None = None
    peak: float | None = None
    start: float | None = None
    fahrenheit: bool = False
    iron_free: bool = False
    large: bool = False
    probe: str = "K2"


def answer(asked: Question) -> str:
    """The answer, several lines; Refusal where there is none."""
    return "\n".join(_lines(_Checked(asked)))


class _Checked:
    """The question in degC, refused where it makes no sense."""

    def __init__(self, asked: Question) -> None:
        self.asked = asked
        self.unit = "degF" if asked.fahrenheit else "degC"
        self.body = Body.IRON_FREE if asked.iron_free else Body.ORDINARY
        climb = self._step(asked.climb)
        self._check("--climb", climb, SLOWEST_ANSWERED, FASTEST_ANSWERED, " an hour")
        start = self._celsius("--from", asked.start)
        self.climb = Climb(climb, start)
        self.peak = self._celsius("--peak", asked.peak)
        if start is not None and self.peak is not None and self.peak <= start:
            raise Refusal("--peak", "it is not above where the climb begins", "a climb goes up")
        self.soak = asked.soak
        if self.soak is not None and not 0.0 <= self.soak <= LONGEST_SOAK_MINUTES:
            raise Refusal("--soak", f"{self.soak:g} cannot be", f"it is 0 to {LONGEST_SOAK_MINUTES:.0f} minutes")
        if not asked.cone and (self.peak is not None or start is not None or self.soak is not None):
            raise Refusal("--cone", "a soak, a peak or a beginning is asked of one cone", "for example --cone 05")
        self.probe = _probe(asked.probe)
        self.one = self._cone(asked.cone) if asked.cone else None

    def _cone(self, name: str) -> Cone:
        return large_cone(name, self.body) if self.asked.large else cone(name, self.body)

    def cones(self) -> Iterator[Cone]:
        for name in cone_names(self.body):
            try:
                yield self._cone(name)
            except Refusal:  # the chart makes no large one of this name
                continue

    def heat(self, celsius: float) -> str:
        return f"{self._heats(celsius):.0f} {self.unit}"

    def step(self, celsius: float) -> str:
        return f"{self._steps(celsius):.0f} {self.unit}"

    def _heats(self, celsius: float) -> float:
        return celsius * FAHRENHEIT + 32.0 if self.asked.fahrenheit else celsius

    def _steps(self, celsius: float) -> float:
        return celsius * FAHRENHEIT if self.asked.fahrenheit else celsius

    def _step(self, number: float) -> float:
        return number / FAHRENHEIT if self.asked.fahrenheit else number

    def _celsius(self, where: str, number: float | None) -> float | None:
        if number is None:
            return None
        celsius = (number - 32.0) / FAHRENHEIT if self.asked.fahrenheit else number
        self._check(where, celsius, COLDEST, HOTTEST, "")
        return celsius

    def _check(self, where: str, value: float, low: float, high: float, per: str) -> None:
        show = self._steps if per else self._heats
        if not (isfinite(value) and low <= value <= high):
            allowed = f"it is {show(low):.0f} to {show(high):.0f} {self.unit}{per}"
            raise Refusal(where, f"{show(value):g} {self.unit}{per} cannot be answered", allowed)


def _probe(text: str) -> Probe:
    letter, number = text[:1].upper(), text[1:]
    if letter not in CLASSES or number not in {str(known) for known in CLASSES[letter]}:
        known = ", ".join(f"{one}{number}" for one, numbers in CLASSES.items() for number in numbers)
        raise Refusal("--probe", f"{text!r} is no type and tolerance class", f"it is one of {known}")
    return Probe(letter, int(number))


def _lines(q: _Checked) -> Iterator[str]:
    rate = q.climb.celsius_per_hour
    kind = f"{q.body.value.replace('_', '-')} cones, {'large' if q.asked.large else 'self-supporting'}"
    if q.one is None:
        yield f"Climbing {q.step(rate)} an hour, these {kind} are down at:"
        yield ""
        for one in q.cones():
            yield f"  cone {one.name:<5}{q.heat(end_point_celsius(one, rate)):>10}"
        yield ""
        yield "Each give or take a few degrees for the lot of cones, and more for your probe: ask with --cone."
    else:
        yield from _about(q, q.one)
    if not SLOWEST_CELSIUS_PER_HOUR <= rate <= FASTEST_CELSIUS_PER_HOUR:
        yield (
            f"The published chart covers {q.step(SLOWEST_CELSIUS_PER_HOUR)} to {q.step(FASTEST_CELSIUS_PER_HOUR)} an "
            "hour; at your climb these figures are run on beyond it."
        )


def _about(q: _Checked, one: Cone) -> Iterator[str]:
    rate = q.climb.celsius_per_hour
    end = end_point_celsius(one, rate)
    offset = offset_prior(q.probe, end)
    low, high = end_point_between(one, rate, offset.deviation)
    yield f"Cone {one.name} is down at {q.heat(end)}, climbing {q.step(rate)} an hour without a soak."
    yield (
        f"With a {q.probe.type} probe of class {q.probe.tolerance_class} nothing has been checked against, "
        f"it reads {q.heat(low)} to {q.heat(high)} then, eight times in ten."
    )
    if not within_class(q.probe.tolerance_class, end, q.probe.type):
        off = tolerance_celsius(q.probe.tolerance_class, end, q.probe.type)
        yield f"IEC 60584-1 promises nothing for this class so hot; its {q.step(off)} either way is carried on."
    if q.climb.from_celsius is not None:
        yield from _beginning(q, one, end)
    if q.peak is None:
        if q.soak is not None:
            yield from _peak(q, one)
        else:
            yield from _neighbours(q, one)
    else:
        yield from _held(q, one, q.peak, offset.deviation)


def _beginning(q: _Checked, one: Cone, end: float) -> Iterator[str]:
    start = q.climb.from_celsius
    assert start is not None
    yield f"From {q.heat(start)} it is down at {q.heat(max(start, q.climb.celsius(one, 1.0)))}."
    if start > end - EARLIER_CELSIUS:
        yield "What the cone went through before that is not counted: begin lower if it was hot for long."


def _neighbours(q: _Checked, one: Cone) -> Iterator[str]:
    rate = q.climb.celsius_per_hour
    for role, other in (("guide", guide_of(one)), ("guard", guard_of(one))):
        if other is not None:
            yield f"Its {role}, cone {other.name}, is down at {q.heat(end_point_celsius(other, rate))}."
    if one.body is Body.ORDINARY and not q.asked.large:
        early, _, late = down_between(one.name, rate, None, offset_prior(q.probe, one.end_60_celsius))
        yield (
            f"A small cone {one.name} lying in a shut-off is not in the chart: count on its trip between "
            f"{q.heat(early)} and {q.heat(late)}, until trips of your kiln say more."
        )


def _peak(q: _Checked, one: Cone) -> Iterator[str]:
    assert q.soak is not None
    peak = peak_celsius(one, q.climb, q.soak)
    shorter, longer = (peak_celsius(one, q.climb, q.soak * by) for by in (SOAK_FACTOR, 1.0 / SOAK_FACTOR))
    if q.climb.from_celsius is not None and peak <= q.climb.from_celsius:
        yield f"Held {q.soak:g} minutes where the climb begins it is down already."
        return
    yield (
        f"Held {q.soak:g} minutes, it is down from a peak of {q.heat(peak)}; a soak may do half or twice that, so "
        f"{q.heat(shorter)} to {q.heat(longer)}."
    )


def _held(q: _Checked, one: Cone, peak: float, deviation: float) -> Iterator[str]:
    arrived = q.climb.alpha(one, peak)
    yield f"On reaching {q.heat(peak)} it {_stands(one, arrived, peak, deviation)}."
    if q.soak is not None:
        worth = soak_worth_celsius(one, q.climb, peak, q.soak)
        done = alpha_after(one, q.climb, peak, q.soak)
        yield f"After {q.soak:g} minutes there it {_stands(one, done, peak, deviation, done - arrived)}."
        yield f"That soak is worth {q.step(worth)} more of the same climb, or {(done - arrived):.2f} of its heat work."
    minutes = soak_minutes(one, q.climb, peak)
    if minutes == 0.0:
        yield "It is down before the peak: no soak is needed."
    elif minutes > LONGEST_SOAK_MINUTES:
        yield "Held there it takes more than a day to go down: this peak is too low for it."
    else:
        yield (
            f"Held there it is down after {minutes:.0f} minutes; without a witness cone of your own, "
            f"{minutes / SOAK_FACTOR:.0f} to {minutes * SOAK_FACTOR:.0f}."
        )


def _stands(one: Cone, alpha: float, celsius: float, deviation: float, soaked: float = 0.0) -> str:
    """soaked: what of alpha a soak did, good to a factor."""
    low, _ = alpha_between(one, alpha - soaked + soaked / SOAK_FACTOR, celsius, deviation)
    _, high = alpha_between(one, alpha - soaked + soaked * SOAK_FACTOR, celsius, deviation)
    middle, least, most = bend_degrees(alpha), bend_degrees(low), bend_degrees(high)
    return f"has bent {middle:.0f} degrees ({alpha_words(alpha)}), between {least:.0f} and {most:.0f}"
