"""Kilns of another hand: their physics and cones hold, and the watch is judged on three of them from outside.

`tests/proving/black_box.py` runs many.
"""

import subprocess
import sys
from pathlib import Path

import pytest

sys.path.insert(0, str(Path(__file__).parent))

import black_box
import kinds
import other_cones
import other_far
import other_files
import other_hand
import other_keeper
from other_kiln import Build, Chamber, Ware, element_watts

BUILD = Build(
    diameter=0.55, ring_height=0.23, wall=0.07, conductivity=0.14, conductivity_rise=1.3e-4, density=550,
    heat_capacity=950, outside=10, leak=0.3, air_capacity=2500, emissivity=0.55, view=0.5, stirring=12,
)  # fmt: skip
WARES = tuple(Ware(kilograms, 1000, 0.3, kilograms / 2) for kilograms in (14.0, 10.0, 12.0))


@pytest.mark.parametrize("step_seconds", [10.0, 30.0])
def test_energy_closes(step_seconds: float) -> None:
    """What was bought is stored, lost, or went into steam and clay; uneven watts, plugs, a lid that opens."""
    chamber = Chamber(BUILD, WARES, 18.0, 12.0, step_seconds)
    for n in range(int(14 * 3600 / step_seconds)):
        hour = n * step_seconds / 3600
        heating = [3000.0, 2500.0, 2800.0 * (hour < 6)] if hour < 9 else [0.0] * 3
        chamber.step(heating, 1.8 if hour < 2 else 0.0, 45.0 if hour > 12 else 0.0)
    assert chamber.bought == pytest.approx(3600 * (9 * 5500 + 6 * 2800), rel=1e-3)
    assert abs(chamber.bought - chamber.stored() - chamber.lost - chamber.latent) < 1e-9 * chamber.bought
    assert chamber.latent > 0.9 * (0.9 * 2.4e6 + 18 * 0.3e6), "steam and the clay's own water are gone"
    assert sum(chamber.water) < 1e-3


def test_a_kiln_left_alone_stays_as_warm_as_its_room() -> None:
    chamber = Chamber(BUILD, WARES, 18.0, 18.0)
    for _ in range(360):
        chamber.step([0.0] * 3, 1.8, 45.0)
    for part in (chamber.air, chamber.ware, *chamber.wall, *chamber.slabs):
        assert part == pytest.approx([18.0] * len(part), abs=1e-9)


def test_a_kiln_hot_through_loses_what_it_is_given() -> None:
    """Steady state, and through a wall by Fourier's law: all layers pass on the same."""
    chamber = Chamber(BUILD, WARES, 600.0, 18.0, 30.0)
    for _ in range(120 * 120):
        chamber.step([1000.0] * 3, 0.0, 0.0)
    before = chamber.lost
    chamber.step([1000.0] * 3, 0.0, 0.0)
    assert (chamber.lost - before) / 30 == pytest.approx(3000, rel=1e-4)
    hot, *_, cold = chamber.wall[1]
    area, apart = BUILD.face * 1.08, BUILD.wall * (1 - (0.14 + 0.34) / 2)
    through = area * (BUILD.conductivity * (hot - cold) + BUILD.conductivity_rise * (hot**2 - cold**2) / 2) / apart
    assert through == pytest.approx(BUILD.outside * BUILD.face * 1.25 * (cold - 18.0), rel=1e-3)


def test_watts_go_with_volts_squared_and_share() -> None:
    """Ohm: 5 % sag leaves 0.9025 of the watts."""
    assert element_watts(4000, 0.5, 0.95, 1.0) == pytest.approx(0.9025 * 2000)


@pytest.mark.parametrize("cone", [c for c in other_cones.ORDER if len(other_cones.PUBLISHED[c]) == 3])
def test_a_cones_kinetics_give_its_published_end_points(cone: str) -> None:
    """Two numbers for three points that are rounded and scattered by about 2 degC: within 4, and 1 on average."""
    fit = other_cones.kinetics(cone)
    off = [fit.end_point(rate) - celsius for rate, celsius in other_cones.PUBLISHED[cone].items()]
    assert max(map(abs, off)) <= 4
    assert abs(sum(off)) / 3 <= 1


def test_it_is_of_another_hand() -> None:
    """Nothing of the engine but the published end points, nothing of the emulated kiln or of what fires it."""
    told = subprocess.run(
        [sys.executable, "-c", "import black_box, sys; print(*sys.modules)"],
        check=True, capture_output=True, text=True, cwd=Path(__file__).parent,
    ).stdout.split()  # fmt: skip
    assert {"other_kiln", "other_keeper", "spyhole.core.cones.chart"} <= set(told)
    assert not {"hearth", "family", "score", "spyhole.core.watch", "spyhole.core.cones.kinetics"} & set(told)
    assert not [name for name in told if name.startswith(("spyhole_hardware", "spyhole.core.thermal", "numpy"))]


def test_every_trouble_is_judged_as_the_proving_ground_judges() -> None:
    for kind in other_hand.TROUBLED:
        assert black_box.trouble_of(kind) in kinds.TROUBLES.values()
    assert set(black_box.LIKE) | set(black_box.MINUTES) | black_box.AT_A_RING <= set(other_hand.TROUBLED)
    assert not set(other_hand.HEALTHY) & set(other_hand.TROUBLED)


def test_a_seed_repeats_and_seeds_differ(tmp_path: Path) -> None:
    names = ("kiln.toml", "plan.toml", "readings.csv", "entries.csv")
    written = []
    for n, seed in enumerate((1, 1, 2)):
        other_keeper.firing.cache_clear()
        assert other_files.write("glaze", seed, tmp_path / str(n), 60)
        written.append([(tmp_path / str(n) / name).read_text() for name in names])
    assert written[0] == written[1]
    assert written[0][2] != written[2][2]


def test_far_kilns_are_far_and_the_watch_holds_on_them() -> None:
    """One lined with fibre, to a bisque; what it is made of lies outside what the other hand draws."""
    drawn = other_hand.draw("bisque", 600)
    case = other_far.far(drawn)
    assert other_far.sort_of(600) == "fibre"
    assert case.build.density < 0.6 * drawn.build.density
    assert (case.cone, case.stages, case.room) == (drawn.cone, drawn.stages, drawn.room)
    assert {other_far.sort_of(seed) for seed in range(4)} == set(other_far.SORTS)
    result = black_box.one("bisque", 600, in_far=True)
    assert result is not None
    assert result["false"] == [], result["said"]
    forecast = result["down"]["60"]
    assert forecast is not None
    assert abs(forecast["error"]) < 25


def test_silence_is_a_miss_and_chatter_is_false(tmp_path: Path) -> None:
    """The judge itself: of no outcomes at all, of the right alarm, of another ring's, and of one before it."""

    def told(t: float, tag: str, ring: str | None) -> dict[str, object]:
        return {"time": other_files.iso(t), "type": "alarm", "action": "raise", "tag": tag, "ring": ring,
                "priority": "medium"}  # fmt: skip

    truth = other_files.write("probe-open", 1, tmp_path, 60)
    assert truth is not None
    onset = truth["onset"]
    assert onset is not None
    other = next(ring for ring in other_hand.RINGS if ring != truth["ring"])
    silent = black_box.judge(truth, [], 60)
    assert (silent["delay"], silent["false"], silent["wrong"]) == (None, [], [])
    right = black_box.judge(truth, [told(onset + 120, "probe-open", truth["ring"])], 60)
    assert right["delay"] == pytest.approx(2.0, abs=0.02)
    assert (right["late"], right["wrong"]) == (False, [])
    late = black_box.judge(truth, [told(onset + 3600, "probe-open", truth["ring"])], 60)
    assert late["late"]
    astray = black_box.judge(truth, [told(onset + 120, "probe-open", other)], 60)
    assert (astray["delay"], astray["wrong"]) == (None, ["probe"])
    early = black_box.judge(truth, [told(onset - 3600, "stall", None)], 60)
    assert (early["delay"], early["false"]) == (None, ["stall"])
    back: other_files.Truth = {**truth, "kind": "power-back", "begun": onset - 1800}
    cut = [told(onset - 1500, "heat-lost", None), told(onset + 60, "power-back", None)]
    again = black_box.judge(back, cut, 60)
    assert (again["false"], again["wrong"], again["late"]) == ([], [], False)


def test_a_healthy_glaze_firing_is_told_nothing_false_and_its_cone_is_foretold() -> None:
    result = black_box.one("glaze", 1)
    assert result is not None
    assert result["false"] == [], result["said"]
    forecast = result["down"]["60"]
    assert forecast is not None
    assert abs(forecast["error"]) < 20


@pytest.mark.parametrize("kind", ["ring-opens", "ring-left-low"])
def test_a_dead_ring_and_one_left_on_low_after_the_end_are_found(kind: str) -> None:
    result = black_box.one(kind, 1)
    assert result is not None
    assert result["delay"] is not None, result["said"]
    assert not result["late"], result["delay"]
    assert result["false"] == []
