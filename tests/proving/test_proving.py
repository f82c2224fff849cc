"""The family itself is honest, and the watch holds on a handful of it; `make prove` runs the whole."""

import random
import sys
from array import array
from concurrent.futures import ProcessPoolExecutor
from dataclasses import replace
from functools import lru_cache
from itertools import repeat
from pathlib import Path
from statistics import mean, median

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import earlier
import family
import hearth
import kinds
import report
import run
import score

from spyhole.core.kiln import Switch
from spyhole.core.reading import Fault

SEED = 4_000


@lru_cache(maxsize=64)
def fired(kind: str, seed: int = SEED) -> tuple[family.Case, hearth.Fired]:
    return hearth.fire(seed, kind)


@pytest.mark.parametrize("kind", ["wet-with-care", "ramp"])
def test_energy_closes(kind: str) -> None:
    _, found = fired(kind)
    assert abs(found.balance) < 1e-9
    assert found.bought > 1e7


def test_draws_differ_and_seeds_repeat() -> None:
    assert len({family.draw(seed, "plain").build for seed in range(20)}) == 20
    assert family.draw(5, "plain") == family.draw(5, "plain")
    assert list(fired("ramp")[1].readings(30)) == list(hearth.fire(SEED, "ramp")[1].readings(30))


def test_there_are_enough_kinds() -> None:
    assert len(set(kinds.HEALTHY)) >= 25
    assert len(kinds.TROUBLES) >= 25
    assert not set(kinds.HEALTHY) & set(kinds.TROUBLES)


def test_every_tag_of_the_catalogue_is_the_truth_of_some_kind() -> None:
    from spyhole.core.alarms.catalogue import CATALOGUE

    accepted = {tag for trouble in kinds.TROUBLES.values() for tag in trouble.accepted}
    assert set(CATALOGUE) <= accepted


def test_watts_go_with_volts_squared() -> None:
    """Ohm: a kiln on 0.955 of its volts buys 0.912 of its watts."""
    case = family.draw(SEED, "plain")
    case.cycles = 0.0
    keeping = hearth.Keeping(case)
    keeping.timer.wind(60)
    keeping.turn(0, case.plan.stages[-1].switches)
    full = sum(keeping.watts(0.0, False))
    case.volts *= 0.955
    low = sum(keeping.watts(0.0, False))
    assert low / full == pytest.approx(0.912, abs=0.003)


@pytest.mark.parametrize("cycles", [20.0, 20.1, 33.3, 59.9])
@pytest.mark.parametrize("share", [0.25, 0.5])
def test_a_cycling_switch_gives_its_share(cycles: float, share: float) -> None:
    """However its cycle falls together with the steps, over each ten minutes: no beat that wanders for hours."""
    for ten in range(12):
        steps = [hearth.on_share(t, cycles, share) for t in range(600 * ten, 600 * ten + 600, hearth.STEP)]
        assert all(0.0 <= step <= 1.0 + 1e-9 for step in steps)
        assert mean(steps) == pytest.approx(share, abs=0.03)


def test_a_sparser_watch_is_told_the_same_numbers() -> None:
    _, found = fired("ramp")
    dense = dict(found.readings(5))
    sparse = dict(found.readings(30))
    assert len(sparse) * 6 == pytest.approx(len(dense), rel=0.01)
    assert all(dense[t] == reading for t, reading in sparse.items())


@pytest.mark.parametrize(("breaks_at", "seen_at_30"), [(60, 0.0), (65, None)])
def test_a_wire_that_breaks_only_between_two_readings_is_left_out_of_the_count(
    breaks_at: int, seen_at_30: float | None
) -> None:
    """Nothing that the watch is told says that anything is wrong; at 5 s it is told all the same."""
    case = replace(family.draw(SEED, "plain"), kind="probe-flickers")
    broken = hearth.FAULT_BASE - hearth.FAULTS.index(Fault.OPEN)
    times = range(0, 600, 5)
    found = hearth.Fired(
        times=array("i", times), cold=array("i", [25 * 128] * len(times)), onset=60.0, seen=0.0,
        steps=[array("i", [broken if t % 150 == breaks_at else 64_000 for t in times]) for _ in case.kiln.probe_rings],
    )  # fmt: skip
    assert score.judge(case, found, [], [], 0, 30)["seen"] == seen_at_30
    assert score.judge(case, found, [], [], 0, 5)["seen"] == 0.0


@pytest.mark.parametrize("kind", ["switch-left-low", "runaway"])
def test_whoever_turns_all_switches_off_in_the_end_turns_off_the_wrong_one_too(kind: str) -> None:
    keeping = hearth.Keeping(family.draw(SEED, kind))
    keeping.timer.wind(60)
    keeping.stage = len(keeping.case.plan.stages) - 1
    keeping.out.onset = 0.0
    keeping.turn(0, (Switch.OFF,) * keeping.rings)
    assert any(keeping.watts(10.0, True))
    keeping.done = 5.0
    assert not any(keeping.watts(10.0, True))


@pytest.mark.parametrize("kind", random.Random(SEED).sample(sorted(kinds.TROUBLES), 4))
def test_a_trouble_begins_within_its_firing_and_can_be_seen(kind: str) -> None:
    _, found = fired(kind)
    assert found.onset is not None
    assert found.begun is not None
    assert 0 < found.begun <= found.onset < found.times[-1]
    assert found.seen is not None


@pytest.mark.parametrize("kind", ["soak", "ramp", "low-cone", "wet-with-care"])
def test_a_healthy_firing_is_healthy_by_its_ware(kind: str) -> None:
    _, found = fired(kind)
    assert found.onset is None
    assert found.final_work > 0.85
    assert found.hurried == 0


def test_a_kiln_that_was_fired_before_is_the_same_kiln_with_other_ware() -> None:
    """What it taught is of the kiln, and of nothing that happens in the firing that is scored."""
    case, found = fired("ramp", 4_001)
    before, burnt = earlier.earlier(case)
    assert earlier.is_known(case)
    assert (before.build, before.kiln, before.plan, before.probe_near) == (
        case.build,
        case.kiln,
        case.plan,
        case.probe_near,
    )
    assert before.loads != case.loads
    assert before.lot != case.lot
    assert before.watts != case.watts
    assert burnt.cone_down is not None
    assert burnt.cone_down != found.cone_down
    learned = earlier.lesson(before, burnt)
    assert learned.model
    assert learned.cooling
    assert len(learned.slips) == 1
    assert any(offset is not None for offset in learned.offsets), "the cones on the shelf say what the probe is off by"


def test_three_kilns_in_five_were_fired_before() -> None:
    cases = [family.draw(seed, "plain") for seed in range(20)]
    assert sum(map(earlier.is_known, cases)) == 12
    assert not any(earlier.is_known(family.draw(seed, "first-firing")) for seed in range(5))


def test_the_interval_of_a_share_is_wilsons() -> None:
    """80 of 100: 0.711 to 0.867 (worked by hand from the formula)."""
    low, high = report.interval(80, 100)
    assert (round(low, 3), round(high, 3)) == (0.711, 0.867)


WELL = (
    ("plain", 2026), ("three-stages", 2062), ("one-ring", 2057), ("two-probes", 2050), ("wrong-entries", 2081),
    ("wet-with-care", 2090), ("cold-room", 2030), ("cycling-switches", 2041), ("glaze", 2028), ("first-firing", 2110),
    ("one-probe", 2092), ("warm-start", 2029), ("off-by-hand", 2066), ("soak", 2059),
)  # fmt: skip
ILL = (
    ("timer-ran-out", 13727), ("power-lost", 13326), ("power-lost-night", 13527), ("power-back", 13626),
    ("damp-turned-up", 12426), ("runaway", 12527), ("night-switch-high", 12327), ("ceiling", 12227),
    ("ring-fuse-medium", 13027), ("still-on", 12627), ("unplanned-heat", 12726), ("probe-stuck", 14726),
    ("chip-forgot", 15726), ("box-hot", 15827), ("gap", 16027), ("watch-alerts", 16426),
)  # fmt: skip
FALSE_AT_MOST, LOST_AT_MOST, WRONG_AT_MOST, REPEATS_AT_MOST = 1, 1, 1, 0
OFF_AT_MOST = {180: 10.0, 120: 9.0, 60: 6.0, 30: 3.0}
PROGRESS_AT_MOST = 0.1
HOLD = (0.65, 0.97)
"""Measured of these firings on 2026-11-29: alarms 0, 0, 0, 0; on 2026-11-30: forecasts 4.7, 5.1, 3.1, 1.8 min, 49 of 52
within their intervals, and 0.083. The rest is room for what a better engine shifts; one that gets worse is red. This is
where the engine stands and not where it has to come to."""


@pytest.fixture(scope="module")
def scored(tmp_path_factory: pytest.TempPathFactory) -> list[score.Result]:
    """Thirty firings of the whole run, watched at 30 s."""
    folder = tmp_path_factory.mktemp("firings")
    with ProcessPoolExecutor(2) as pool:
        return list(pool.map(run.one, [(kind, seed, 30) for kind, seed in (*WELL, *ILL)], repeat(folder)))


def well(results: list[score.Result]) -> list[score.Result]:
    return [r for r in results if r["healthy"]]


def ill(results: list[score.Result]) -> list[score.Result]:
    return [r for r in results if not r["healthy"]]


@pytest.mark.timeout(900)
def test_healthy_firings_are_quiet(scored: list[score.Result]) -> None:
    loud = [(r["kind"], r["false"]) for r in well(scored) if r["false"]]
    assert sum(len(tags) for _, tags in loud) <= FALSE_AT_MOST, loud


@pytest.mark.timeout(900)
def test_troubles_are_found_in_time(scored: list[score.Result]) -> None:
    assert all(r["seen"] is not None for r in ill(scored))
    lost = [(r["kind"], r["delay"]) for r in ill(scored) if r["delay"] is None or r["late"]]
    assert len(lost) <= LOST_AT_MOST, lost


@pytest.mark.timeout(900)
def test_one_trouble_is_one_alarm(scored: list[score.Result]) -> None:
    wrong = [(r["kind"], r["wrong"]) for r in ill(scored) if r["wrong"]]
    assert sum(len(families) for _, families in wrong) <= WRONG_AT_MOST, wrong
    assert sum(r["repeats"] for r in ill(scored)) <= REPEATS_AT_MOST


@pytest.mark.timeout(900)
@pytest.mark.parametrize("minutes", [180, 120, 60, 30])
def test_the_cone_is_foretold(scored: list[score.Result], minutes: int) -> None:
    """The median, so that one kiln decides nothing."""
    found = [d["error"] for r in well(scored) if (d := r["down"].get(str(minutes))) is not None]
    errors = [abs(error) for error in found if error is not None]
    assert len(errors) >= 0.8 * len(found) > 5
    assert median(errors) <= OFF_AT_MOST[minutes]


@pytest.mark.timeout(900)
def test_about_eight_forecasts_in_ten_hold_the_cone(scored: list[score.Result]) -> None:
    """Too few to tell four in five from nine in ten, enough to see intervals that hold nothing or everything."""
    inside = [d["inside"] for r in well(scored) for d in r["down"].values() if d["inside"] is not None]
    assert len(inside) > 30
    assert HOLD[0] <= mean(inside) <= HOLD[1]


@pytest.mark.timeout(900)
def test_cone_progress_is_known(scored: list[score.Result]) -> None:
    assert mean(p for r in well(scored) if (p := r["progress"]) is not None) <= PROGRESS_AT_MOST
