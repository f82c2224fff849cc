"""Energy and cost from the switches: setting x rated watts x time, for each ring; or from what was measured of it.

Rated at the volts of the elements: 5 % less at the wall is about 10 % less heat and current (Ohm and Joule). Where a
ring has a current transformer, it is measured current x rated volts x time instead: elements are a resistive load
(power factor 1), and nobody measures the volts here. What was not logged is taken from the stage the watch believed
in, and said to be so.
"""

from bisect import bisect_left, bisect_right
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from datetime import tzinfo
from itertools import pairwise

from spyhole.core.drawn import HELD_MS, Drawn
from spyhole.core.entry import EntryKind
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.outcome import Action, AlarmOutcome
from spyhole.core.report.story import Story
from spyhole.core.report.tariff import Tariff

JOULES_PER_KWH = 3.6e6
HALF_A_MINUTE_MS = 30_000
HOLDS_MS = HELD_MS + 60_000
"""A measured current is written down each ten minutes at least; where it is not, nobody measures any longer."""
SAME_TURN_MS = 3 * 60_000
"""A stage that begins this near to a logged turn began with it."""


@dataclass(frozen=True, slots=True)
class Span:
    """A stretch of time in which no switch moved. logged: one a ring, whether a person wrote this setting down.

    amperes: one a ring, as measured all the while; None, or () for all, where nobody did.
    """

    from_utc_ms: int
    to_utc_ms: int
    switches: tuple[Switch, ...]
    logged: tuple[bool, ...]
    amperes: tuple[float | None, ...] = ()

    @property
    def hours(self) -> float:
        """How long it was."""
        return (self.to_utc_ms - self.from_utc_ms) / 3_600_000

    def measured(self, ring: int) -> float | None:
        """What this ring was seen to draw [A]; None where nobody measured."""
        return self.amperes[ring] if ring < len(self.amperes) else None

    def watts(self, kiln: Kiln, ring: int) -> float:
        """What this ring took: measured, else by its switch."""
        amperes = self.measured(ring)
        return (
            kiln.switch.of(self.switches[ring]) * kiln.rings[ring].watts
            if amperes is None
            else (amperes * kiln.mains_volts)
        )


@dataclass(frozen=True, slots=True)
class Charge:
    """What was used at one price. money: None without a tariff."""

    per_kwh: float
    kwh: float
    money: float


@dataclass(frozen=True, slots=True)
class Energy:
    """rings: kWh, one a ring. logged_share: of the energy, by settings that somebody wrote down; measured_share: by
    measured currents; the rest is by settings that the watch believed. lit_by: "" where unknown.
    """

    rings: tuple[float, ...]
    logged_share: float
    currency: str
    charges: tuple[Charge, ...]
    lit_by: str
    measured_share: float = 0.0

    @property
    def believed_share(self) -> float:
        """Of the energy, by settings that nobody wrote down and nobody measured."""
        return max(0.0, 1.0 - self.logged_share - self.measured_share) if self.kwh else 0.0

    @property
    def kwh(self) -> float:
        """All rings together."""
        return sum(self.rings)

    @property
    def money(self) -> float | None:
        """The whole firing; None without a tariff."""
        return sum(charge.money for charge in self.charges) if self.charges else None


def spans(story: Story, until_utc_ms: int) -> tuple[Span, ...]:
    """How the switches stood from lighting to this instant, in order; without those in which there was no power."""
    rings = len(story.kiln.rings)
    switches = story.plan.stages[0].switches
    logged = (False,) * rings
    made: list[Span] = []
    at = story.started_utc_ms
    for utc_ms, ring, settings in _turns(story):
        if utc_ms >= until_utc_ms:
            break
        made.append(Span(at, max(at, utc_ms), switches, logged))
        at = max(at, utc_ms)
        if ring is None:
            switches, logged = settings, (False,) * rings
        else:
            switches = (*switches[:ring], settings[0], *switches[ring + 1 :])
            logged = (*logged[:ring], True, *logged[ring + 1 :])
    made.append(Span(at, max(at, until_utc_ms), switches, logged))
    return tuple(piece for span in made for piece in _powered(span, _cuts(story)) if piece.hours > 0.0)


def _turns(story: Story) -> list[tuple[int, int | None, tuple[Switch, ...]]]:
    """(utc_ms, ring, its setting) as logged; (utc_ms, None, all settings) where the watch saw a stage begin."""
    turns: list[tuple[int, int | None, tuple[Switch, ...]]] = [
        (utc_ms, story.kiln.ring_index(entry.subject), (Switch(entry.value),))
        for utc_ms, entry in story.entries(EntryKind.SWITCH)
    ]
    written = [utc_ms for utc_ms, _, _ in turns]
    stages = {stage.name: stage.switches for stage in story.plan.stages}
    before = story.plan.stages[0].name
    for point in story.points:
        if point.stage != before and point.stage in stages:
            before = point.stage
            if not any(abs(utc_ms - point.utc_ms) < SAME_TURN_MS for utc_ms in written):
                turns.append((point.utc_ms - HALF_A_MINUTE_MS, None, stages[point.stage]))
    return sorted(turns, key=lambda turn: turn[0])


def _cuts(story: Story) -> list[tuple[int, int]]:
    """From and to of each time without power: as written down, else as the curve showed it."""
    cuts: list[tuple[int, int]] = []
    lost: int | None = None
    for utc_ms, entry in story.entries(EntryKind.POWER):
        if entry.value == "lost":
            lost = utc_ms if lost is None else lost
        elif lost is not None:
            cuts.append((lost, utc_ms))
            lost = None
    if lost is not None:
        cuts.append((lost, _end(story)))
    if cuts:
        return cuts
    for one in story.happenings:
        if isinstance(one.what, AlarmOutcome) and one.what.tag == "heat-lost":
            since = dict(one.what.facts).get("since_utc_ms")
            if one.what.action is Action.RAISE and isinstance(since, int):
                lost = since if lost is None else lost
            elif one.what.action is Action.CLEAR and lost is not None:
                cuts.append((lost, one.utc_ms))
                lost = None
    return cuts if lost is None else [*cuts, (lost, _end(story))]


def _end(story: Story) -> int:
    return max((p.utc_ms for p in story.points), default=story.started_utc_ms)


def _powered(span: Span, cuts: list[tuple[int, int]]) -> Iterable[Span]:
    at = span.from_utc_ms
    for lost, back in cuts:
        if lost < span.to_utc_ms and back > at:
            yield Span(at, max(at, lost), span.switches, span.logged)
            at = back
    if at < span.to_utc_ms:
        yield Span(at, span.to_utc_ms, span.switches, span.logged)


def with_currents(spent: Iterable[Span], drawn: Sequence[tuple[int, Drawn]]) -> tuple[Span, ...]:
    """The same spans, cut where another current was measured. drawn: (utc_ms, what was drawn from then on), in order.

    A measurement holds until the next, and no longer than `HOLDS_MS`.
    """
    held = tuple(spent)
    if not drawn:
        return held
    instants = [utc_ms for utc_ms, _ in drawn]
    edges = sorted({*instants, *(utc_ms + HOLDS_MS for utc_ms in instants)})
    made: list[Span] = []
    for span in held:
        inside = edges[bisect_right(edges, span.from_utc_ms) : bisect_left(edges, span.to_utc_ms)]
        for begins, ends in pairwise((span.from_utc_ms, *inside, span.to_utc_ms)):
            last = bisect_right(instants, begins) - 1
            holds = last >= 0 and begins < instants[last] + HOLDS_MS
            made.append(
                replace(span, from_utc_ms=begins, to_utc_ms=ends, amperes=drawn[last][1].amperes if holds else ())
            )
    return tuple(made)


def kwh_of(kiln: Kiln, spent: Iterable[Span]) -> tuple[float, ...]:
    """kWh of each ring."""
    held = list(spent)
    return tuple(sum(span.watts(kiln, i) * span.hours for span in held) / 1000.0 for i in range(len(kiln.rings)))


def between(spent: Iterable[Span], from_utc_ms: int, to_utc_ms: int) -> list[Span]:
    """What of these spans lies between two instants."""
    return [
        replace(s, from_utc_ms=max(s.from_utc_ms, from_utc_ms), to_utc_ms=min(s.to_utc_ms, to_utc_ms))
        for s in spent
        if s.from_utc_ms < to_utc_ms and s.to_utc_ms > from_utc_ms
    ]


def energy_of(story: Story, spent: tuple[Span, ...], tariff: Tariff | None, zone: tzinfo) -> Energy:
    """What the firing used and cost. spent: with what was measured. zone: where the tariff's clock hangs."""
    kiln = story.kiln
    rings = kwh_of(kiln, spent)
    each = [(span, i, span.watts(kiln, i) * span.hours / 1000.0) for span in spent for i in range(len(kiln.rings))]
    measured = sum(kwh for span, i, kwh in each if span.measured(i) is not None)
    logged = sum(kwh for span, i, kwh in each if span.measured(i) is None and span.logged[i])
    charges: dict[float, float] = {}
    if tariff is not None:
        for span in spent:
            watts = sum(span.watts(kiln, i) for i in range(len(kiln.rings)))
            for price, ms in tariff.pieces(span.from_utc_ms, span.to_utc_ms, zone):
                charges[price] = charges.get(price, 0.0) + watts * ms / 1000.0 / JOULES_PER_KWH
    return Energy(
        rings=rings,
        logged_share=logged / sum(rings) if sum(rings) else 0.0,
        currency=tariff.currency if tariff is not None else "",
        charges=tuple(Charge(price, kwh, price * kwh) for price, kwh in sorted(charges.items())),
        lit_by=next((entry.who for _, entry in story.entries(EntryKind.START)), ""),
        measured_share=measured / sum(rings) if sum(rings) else 0.0,
    )
