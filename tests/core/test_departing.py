"""A probe that wanders off slowly is told from a ring that gets less, and from a kiln that is well."""

from collections.abc import Callable
from dataclasses import replace
from math import log

from spyhole.core.concluded import Concluded
from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Doubt, Reason
from spyhole.core.departing import departing
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Firing, Written, open_firing
from spyhole.core.kiln import Kiln, Probe, Ring, Switch
from spyhole.core.plan import Plan, Stage
from spyhole.core.thermal.belief import moved
from spyhole.core.thermal.departure import Memory
from spyhole.core.thermal.model import Model
from spyhole.core.thermal.physics import NAMES, NODES, Outside
from spyhole.core.thermal.prior import prior
from spyhole.core.thermal.residual import Residual
from spyhole.core.view import View

KILN = Kiln("Puffin", 1290.0, tuple(Ring(name, 3000.0, Probe()) for name in ("bottom", "middle", "top")))
PLAN = Plan("Bisque", "05", (Stage("high", (Switch.HIGH,) * 3, until_cone=True),), 1, "05")
MINUTE = 60_000
TRAILS = 12
"""Minutes that the settled model is behind the last reading."""
Reads = Callable[[int, tuple[float, ...]], tuple[float, ...]]
"""Minute and the rings' temperatures -> what their probes say."""


def lit() -> Firing:
    start = Written(1, 0, 0, Entry(EntryKind.START, "", "05", "Wren"))
    return replace(open_firing(start, KILN, PLAN, 20.0), turned_ms=-400 * MINUTE, stage_ms=-400 * MINUTE)


def found(
    minutes: int,
    reads: Reads,
    strength: Callable[[int], float] = lambda _: 1.0,
    turned: tuple[int, float] | None = None,
    odd: int | None = None,
    behind: list[tuple[int, ...]] | None = None,
    exchange: float = 1.0,
) -> tuple[int, Doubt] | None:
    """The minute and doubt of the first probe not believed any more.

    strength: what share the middle ring gets. turned: at this minute, by what is told, every ring to this share. odd:
    the minute at which the kiln was as no model has it. behind: takes what is remembered as left behind, each minute.
    exchange: how much rings warm each other, against common practice.
    """
    known = prior(KILN, (450.0,) * 3, 0)
    place = NODES * 3 + NAMES.index("exchange")
    known = replace(known, mean=tuple(m + log(exchange) * (i == place) for i, m in enumerate(known.mean)))
    heat, nodes = known.heat, list(known.celsius)
    before = Outside((0.6,) * 3, (0.0,) * 3, 20.0)
    firing, lived, outside = lit(), [tuple(nodes)], before
    if odd is not None:
        at_ms = odd * MINUTE
        memory = Memory(told=((0, before),), odd_ms=at_ms, odd_from_ms=at_ms, changed_ms=firing.changed_ms)
        firing = replace(firing, memory=memory)
    points: list[tuple[tuple[int, float], ...]] = [()] * 3
    for minute in range(minutes):
        if turned is not None and minute == turned[0]:
            outside = replace(outside, shares=(turned[1],) * 3)
            firing = replace(firing, turned_ms=minute * MINUTE)
        share = outside.shares[0]
        truly = replace(outside, shares=(share, share * strength(minute), share))
        nodes = moved(heat, nodes, truly, 1 / 60)
        lived.append(tuple(nodes))
        said = reads(minute, tuple(nodes[::NODES]))
        points = [(*p, (minute * MINUTE + 30_000, c)) for p, c in zip(points, said, strict=True)]
        if minute < TRAILS + 2:
            continue
        at = minute - TRAILS
        settled = replace(known, at_ms=at * MINUTE - 30_000, mean=(*lived[at], *known.mean[3 * NODES :]))
        told = ((0, before),)
        if turned is not None and minute >= turned[0]:
            told = (*told, (turned[0] * MINUTE, outside)) if settled.at_ms < turned[0] * MINUTE else ((0, outside),)
        firing = replace(firing, model=Model(settled, settled.at_ms, tuple(settled.celsius), told))
        now_ms = (minute + 1) * MINUTE + 10_000
        tracks = tuple(Track(at_ms=now_ms, celsius=p[-1][1], minutes=p) for p in points)
        view = View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, said)
        firing, doubts = departing(view)
        if behind is not None and firing.memory is not None:
            behind.append(firing.memory.left)
        for doubt in doubts:
            if doubt is not None:
                assert doubts.index(doubt) == 1, "only the middle one is at fault here"
                return minute, doubt
    return None


def test_a_turn_from_before_the_model_began_costs_no_reading() -> None:
    """No probe was read for two minutes after lighting, so the model began later than the turn it is then told of."""
    began = 2 * MINUTE
    known = prior(KILN, (20.0,) * 3, began)
    off, on = (Outside((share,) * 3, (0.0,) * 3, 20.0) for share in (0.0, 0.25))
    firing = replace(lit(), model=Model(known, began, tuple(known.celsius), ((began, off),)))
    view = View(3 * MINUTE, 3 * MINUTE, firing, (Track(),) * 3, (None,) * 3, (True,) * 3, (20.0,) * 3)
    firing, _ = departing(view)
    assert firing.memory is not None
    assert firing.memory.told == ((began, off),)
    assert firing.model is not None
    firing = replace(firing, model=replace(firing.model, told=((began - 4_000, on),)))
    firing, _ = departing(replace(view, firing=firing))
    assert firing.memory is not None
    assert firing.memory.told == ((began - 4_000, on),)


def drifting(celsius_per_hour: float) -> Reads:
    return lambda minute, rings: (rings[0], rings[1] + celsius_per_hour * max(0, minute - 90) / 60, rings[2])


def as_it_is(_: int, rings: tuple[float, ...]) -> tuple[float, ...]:
    return rings


def test_a_kiln_as_the_model_has_it_departs_from_nothing() -> None:
    assert found(300, lambda _, rings: rings) is None


def test_a_drift_either_way_is_found_within_the_hour_and_where_the_ring_is_is_known() -> None:
    for rate in (30.0, -30.0):
        told = found(200, drifting(rate))
        assert told is not None
        minute, doubt = told
        assert 30 < minute - 90 < 60
        assert doubt.reason is Reason.DOUBTFUL
        assert doubt.beside is not None
        assert abs(doubt.beside) < 8.0, "beside the others, as all rings are alike"


def test_two_rings_that_part_either_way_are_the_model_s_fault_and_no_probe_s() -> None:
    """The bottom reads warmer and warmer and the top cooler and cooler than the model lets them share their heat."""

    def tilting(minute: int, rings: tuple[float, ...]) -> tuple[float, ...]:
        off = 35.0 * max(0, minute - 90) / 60
        return rings[0] + off, rings[1], rings[2] - off

    assert found(200, tilting) is None


def test_a_ring_that_really_gets_less_is_no_drift() -> None:
    """Its neighbours feel it, so they do not seem too warm."""
    assert found(300, lambda _, rings: rings, lambda minute: 1.0 if minute < 90 else 0.8) is None


def test_a_ring_that_was_not_turned_with_the_others_is_a_switch_and_no_probe() -> None:
    """A switch left where it was, or a fuse: for an hour it does what the others would have done unturned."""
    unturned = found(200, lambda _, rings: rings, lambda minute: 1.0 if minute < 120 else 0.6, turned=(120, 1.0))
    assert unturned is None


def test_a_ring_that_was_not_turned_is_known_as_such_and_one_that_drifts_is_not() -> None:
    """It stays known: the model learns little by little what it lacks, and would blame its probe two hours later."""
    behind: list[tuple[int, ...]] = []
    turn = (120, 1.0)
    found(200, as_it_is, lambda minute: 1.0 if minute < 120 else 0.6, turn, behind=behind, exchange=0.3)
    assert behind[-1] == (1,)
    behind.clear()
    found(200, as_it_is, turned=turn, behind=behind, exchange=0.3)
    assert set(behind) == {()}


def test_a_ring_that_comes_up_again_was_turned_after_all() -> None:
    """By then the model has learned how little it got, so that what it gets is more than that: here, by as much."""
    behind: list[tuple[int, ...]] = []

    def late(minute: int) -> float:
        return 1.0 if minute < 120 else 0.6 if minute < 190 else 1.6

    found(330, as_it_is, late, turned=(120, 1.0), behind=behind, exchange=0.3)
    assert (1,) in behind
    assert behind[-1] == ()


def test_a_probe_that_alone_reads_more_than_high_gives_is_no_odd_kiln() -> None:
    """No switch stands higher: what a drift seems to get beyond high must not keep it from being told."""
    one = Residual(900.0, 5.0, 80.0, 1.0, 0.15, 0.02)
    well = replace(one, share=0.0)
    assert odd_ms((well, one, well)) is None
    assert odd_ms((one, one, well)) is not None, "two that do are the kiln's doing"
    assert odd_ms((well, replace(one, share=-0.15), well)) is not None, "what lacks, a fuse may have taken"


def odd_ms(left: tuple[Residual, ...]) -> int | None:
    """When three rings on high at 900 degC, with these residuals, are found odd."""
    known, now_ms = prior(KILN, (900.0,) * 3, 0), 100 * MINUTE
    outside = Outside((1.0,) * 3, (0.0,) * 3, 20.0)
    model = Model(replace(known, at_ms=now_ms - 10 * MINUTE), now_ms, tuple(known.celsius), ((0, outside),))
    firing = replace(lit(), switches=(Switch.HIGH,) * 3, model=model)
    tracks = (Track(at_ms=now_ms, celsius=900.0),) * 3
    found_, _ = departing(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (900.0,) * 3, left=left))
    assert found_.memory is not None
    return found_.memory.odd_ms


def test_a_drift_through_a_turn_is_found_all_the_same() -> None:
    told = found(200, drifting(45.0), turned=(120, 1.0))
    assert told is not None
    assert told[0] - 90 < 90


def test_a_kiln_that_was_odd_is_known_again_once_it_is_foretold_well_after_a_turn() -> None:
    assert found(200, drifting(30.0), odd=5) is None, "what the model learned of it may hold for no other switches"
    told = found(200, drifting(30.0), odd=5, turned=(20, 0.6))
    assert told is not None
    assert told[0] - 90 < 75


def test_what_all_probes_do_together_the_kiln_does() -> None:
    def all_of_them(minute: int, rings: tuple[float, ...]) -> tuple[float, ...]:
        return tuple(c + 30.0 * max(0, minute - 90) / 60 for c in rings)

    assert found(240, all_of_them) is None


def still_odd(odd_from_minute: int, *, shown: bool) -> bool:
    """Whether the kiln is odd at minute 120, after a turn at 110 of which nobody wrote. shown: the curve had it."""
    turned_ms, now_ms = 110 * MINUTE, 120 * MINUTE
    known = prior(KILN, (450.0,) * 3, 100 * MINUTE)
    outside = Outside((0.6,) * 3, (0.0,) * 3, 20.0)
    memory = Memory(told=((0, outside),), judged_ms=now_ms, odd_ms=118 * MINUTE, odd_from_ms=odd_from_minute * MINUTE)
    turn = Concluded((Switch.HIGH,) * 3, (Switch.MEDIUM,) * 3, turned_ms, 0, 1, shown)
    firing = replace(
        lit(), concluded=(turn,), turned_ms=turned_ms, memory=memory,
        model=Model(known, known.at_ms, tuple(known.celsius), ((0, outside),)),
    )  # fmt: skip
    tracks = (Track(at_ms=now_ms, celsius=450.0),) * 3
    after, _ = departing(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (450.0,) * 3))
    assert after.memory is not None
    assert after.memory.after_odd_ms == turned_ms, "the model has to learn anew all the same"
    return after.memory.odd_ms is not None


def test_a_kiln_that_was_odd_for_no_more_than_a_turn_nobody_wrote_is_odd_no_longer() -> None:
    assert not still_odd(113, shown=True)


def test_one_that_was_odd_before_its_turn_stays_odd() -> None:
    assert still_odd(80, shown=True)
    assert still_odd(113, shown=False), "the clock explains nothing"


def after_odd(written_minute: int, setting: Switch = Switch.HIGH) -> int | None:
    """Since when the model has to learn anew, where the curve was taken for a turn at minute 20 and somebody writes one
    down as made later."""
    now_ms = 100 * MINUTE
    known = prior(KILN, (450.0,) * 3, 90 * MINUTE)
    outside = Outside((0.6,) * 3, (0.0,) * 3, 20.0)
    turn = Concluded((Switch.HIGH,) * 3, (Switch.MEDIUM,) * 3, 20 * MINUTE, 0, 1)
    wrote = Written(9, written_minute * MINUTE, 0, Entry(EntryKind.SWITCH, "middle", setting.value, "Wren"))
    firing = lit()
    firing = replace(
        firing, concluded=(turn,), written=(*firing.written, wrote),
        memory=Memory(told=((0, outside),), changed_ms=firing.changed_ms, judged_ms=now_ms),
        model=Model(known, known.at_ms, tuple(known.celsius), ((0, outside),)),
    )  # fmt: skip
    tracks = (Track(at_ms=now_ms, celsius=450.0),) * 3
    after, _ = departing(View(now_ms, now_ms, firing, tracks, (None,) * 3, (True,) * 3, (450.0,) * 3))
    assert after.memory is not None
    return after.memory.after_odd_ms


def test_a_turn_made_by_the_log_long_after_the_curve_was_taken_for_it_makes_the_model_learn_anew() -> None:
    """The real turn doubles the heat of a kiln that was believed to have it already: that is no runaway."""
    assert after_odd(95) == 95 * MINUTE


def test_the_same_turn_written_down_half_an_hour_late_is_no_other() -> None:
    assert after_odd(45) is None


def test_another_setting_written_later_is_another_turn() -> None:
    assert after_odd(95, Switch.LOW) is None
