"""What a firing teaches for the next: of its probes, by the cones that stood beside them."""

import random
from dataclasses import replace

from spyhole.core.care import Care
from spyhole.core.cones.correction import Sighting, corrected
from spyhole.core.cones.doubt import corrected_alpha, offset_prior
from spyhole.core.cones.kinetics import bend_degrees, cone
from spyhole.core.cones.tolerance import tolerance_celsius
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.firing import Written, open_firing, write
from spyhole.core.kiln import Probe
from spyhole.core.learned import Belief, Learned
from spyhole.core.learning import after_care, with_probes_of
from spyhole.core.plan import Body
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

WITNESSES = ("06", "05", "04")
PEAK_CELSIUS = 1040.0
LOT_DEVIATION_CELSIUS = 1.0
"""Half of what the maker's engineer calls the spread of a lot."""


def seen_on_the_shelf(off_celsius: float, places: random.Random) -> tuple[Sighting, ...]:
    """Three cones looked at cold beside a probe that is so far off; bends read to five degrees."""
    sightings = []
    true_alpha_of_05 = places.uniform(0.6, 0.97)  # bent, and not yet down: that is the cone that tells
    for number, name in enumerate(WITNESSES):
        one = cone(name, Body.ORDINARY)
        # What this cone has had, as the same heat moves it: by its own end point against that of the middle one.
        apart = cone("05", Body.ORDINARY).end_60_celsius - one.end_60_celsius
        truly = corrected_alpha(one, true_alpha_of_05, PEAK_CELSIUS, apart)
        as_bent = corrected_alpha(one, truly, PEAK_CELSIUS, places.gauss(0.0, LOT_DEVIATION_CELSIUS))
        bend = min(130.0, round(bend_degrees(min(as_bent, 1.2)) / 5.0) * 5.0)
        read = corrected_alpha(one, truly, PEAK_CELSIUS, -off_celsius)
        sightings.append(Sighting(number + 1, 0, name, Body.ORDINARY, bend, read, PEAK_CELSIUS))
    return tuple(sightings)


def test_three_witness_cones_find_an_offset_of_twelve_degrees_to_three() -> None:
    """Where one of the three was caught bending, 98 times in 100; of all packs, with those that bracket the heat
    between a cone that is down and one still upright, nine times in ten."""
    places = random.Random(20261125)
    wrong: list[float] = []
    caught: list[float] = []
    prior = offset_prior(Probe(), PEAK_CELSIUS)
    for _ in range(1000):
        off = places.uniform(-12.0, 12.0)
        seen = seen_on_the_shelf(off, places)
        wrong.append(abs(corrected(prior, seen).offset.value - off))
        if any(15.0 <= cone.bend_degrees <= 85.0 for cone in seen):
            caught.append(wrong[-1])
    assert len(caught) > 800
    assert sorted(caught)[int(len(caught) * 0.98)] <= 3.0
    assert sorted(wrong)[len(wrong) // 2] <= 1.5
    assert sorted(wrong)[int(len(wrong) * 0.9)] <= 3.0


def test_an_uncalibrated_probe_is_not_that_good() -> None:
    assert tolerance_celsius(2, PEAK_CELSIUS, Probe().type) > 3.0


def test_another_probe_forgets_what_was_known_of_the_one_before_and_of_no_other() -> None:
    learned = Learned(offsets=tuple(Belief(float(ring), 2.0) for ring in KILN.probe_rings))
    assert with_probes_of(KILN, KILN, learned) is learned
    rings = list(KILN.rings)
    rings[1] = replace(rings[1], probe=replace(rings[1].probe or Probe(), tolerance_class=1))
    left = with_probes_of(KILN, replace(KILN, rings=tuple(rings)), learned).offsets
    assert [each is None for each in left] == [False, True, False]


def test_what_was_renewed_after_a_firing_is_forgotten_at_the_next_and_what_was_taken_back_is_not() -> None:
    strengths = tuple((f"strength {ring.name}", Belief(0.0, 0.05)) for ring in KILN.rings)
    known = tuple(Belief(float(ring), 2.0) for ring in KILN.probe_rings)
    learned = Learned(offsets=known, model=(("full", Belief(6.2, 0.1)), *strengths))
    firing = open_firing(Written(1, 0, 0, Entry(EntryKind.START, "", "04")), KILN, TONIGHT.plan, 20.0)
    assert after_care(firing, learned) == learned

    def written(sequence: int, ring: str, what: Care) -> Written:
        return Written(sequence, 10, 10, Entry(EntryKind.MAINTENANCE, ring, what))

    bottom = KILN.rings[0].name
    firing = write(firing, written(2, bottom, Care.ELEMENTS))
    firing = write(firing, written(3, KILN.rings[KILN.probe_rings[1]].name, Care.PROBE))
    firing = write(firing, written(4, "", Care.BULGED_ELEMENT))
    left = after_care(firing, learned)
    assert [each is None for each in left.offsets] == [False, True, False]
    assert [name for name, _ in left.model] == ["full", *(name for name, _ in strengths[1:])]
    everywhere = write(firing, written(5, "", Care.PROBE))
    assert after_care(everywhere, learned).offsets == ()
    undone = replace(firing, written=tuple(replace(w, undone=True) for w in firing.written))
    assert after_care(undone, learned) == learned
