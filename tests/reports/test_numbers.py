"""The report's figures against numpy and SciPy, from the readings and the notes of one firing of Puffin.

The report sees minutes; these see every reading. Law of the cones: Kissinger, Analytical Chemistry 29 (1957) 1702.
"""

from datetime import datetime
from typing import Any
from zoneinfo import ZoneInfo

import numpy as np
import pytest
from scipy.integrate import quad, trapezoid

from spyhole.core.cones.kinetics import cone
from spyhole.core.entry import EntryKind
from spyhole_hardware.emulated.puffin import KILN

GAS_CONSTANT = 8.314462618  # CODATA 2018, J/(mol K)
KELVIN = 273.15


def heat_work(name: str, seconds: Any, celsius: Any) -> float:
    """By the law itself: A from the end point at 60 degC/h, then the integral over every reading, straight between."""
    one = cone(name)
    kelvin_end, activation = one.end_60_celsius + KELVIN, one.activation_joules_per_mole / GAS_CONSTANT
    rate = lambda kelvin: np.exp(activation / kelvin_end - activation / kelvin)  # noqa: E731
    whole, _ = quad(rate, kelvin_end - 500.0, kelvin_end, epsabs=0.0, epsrel=1e-9, limit=500)
    fine = np.arange(seconds[0], seconds[-1], 2.0)
    return float(trapezoid(rate(np.interp(fine, seconds, celsius) + KELVIN), fine) * (60.0 / 3600.0) / whole)


def test_heat_work_to_five_thousandths(fired: Any) -> None:
    report = fired.report()
    for ring, celsius in zip(report.rings, fired.celsius, strict=True):
        assert ring.work.raw == pytest.approx(heat_work("05", fired.seconds, celsius), abs=0.005)
        if ring.work.offset is None:
            following = heat_work(ring.work.following, fired.seconds, celsius)
            assert ring.work.following_alpha == pytest.approx(following, abs=0.005)


def switches(report: Any) -> tuple[Any, Any]:
    """Seconds and watts of each ring, second by second, straight from the notes."""
    story = report.story
    first, last = story.started_utc_ms // 1000, report.ending.utc_ms // 1000
    clock = np.arange(first, last)
    watts = np.zeros((len(KILN.rings), len(clock)))
    shares = {"off": 0.0, "low": 0.25, "medium": 0.5, "high": 1.0}
    for utc_ms, entry in story.entries(EntryKind.SWITCH):
        ring = KILN.ring_index(entry.subject)
        watts[ring, clock >= utc_ms / 1000] = KILN.rings[ring].watts * shares[entry.value]
    return clock, watts


def test_energy_to_a_thousandth(fired: Any) -> None:
    report = fired.report()
    _, watts = switches(report)
    assert report.energy.rings == pytest.approx(watts.sum(axis=1) / 3.6e6, rel=1e-3)
    assert report.energy.logged_share == pytest.approx(1.0, abs=1e-3)


def test_cost_to_a_thousandth(fired: Any) -> None:
    report = fired.report()
    clock, watts = switches(report)
    hour = np.array([datetime.fromtimestamp(int(at), ZoneInfo("Europe/Dublin")).hour for at in clock])
    price = np.where((hour >= 23) | (hour < 8), 0.18, 0.34)
    assert report.energy.money == pytest.approx(float((watts.sum(axis=0) / 3.6e6 * price).sum()), rel=1e-3)


def test_what_the_switches_say_is_near_what_the_kiln_bought(fired: Any) -> None:
    """Puffin's mains sag by up to some per cent, which no switch tells; and the trip is written down by hand."""
    report = fired.report()
    assert report.energy.kwh == pytest.approx(fired.joules / 3.6e6, rel=0.05)
    assert report.ending.utc_ms / 1000 - report.story.started_utc_ms / 1000 > 0
    tripped_utc = 1_951_155_660 + fired.tripped_seconds
    # Whoever fires it writes the trip down some minutes later, which is sooner than the curve is sure of it.
    assert report.ending.utc_ms / 1000 == pytest.approx(tripped_utc, abs=420)


def test_peaks_and_times_above(fired: Any) -> None:
    report = fired.report()
    seconds = np.array(fired.seconds)
    for index, (ring, celsius) in enumerate(zip(report.rings, fired.celsius, strict=True)):
        assert ring.peak_celsius == pytest.approx(max(celsius), abs=0.3)
        fine = np.arange(seconds[0], seconds[-1], 1.0)
        course = np.interp(fine, seconds, celsius)
        for line in report.above:
            figure = max(celsius) - line.celsius if line.below_peak else line.celsius
            assert line.rings[index] == pytest.approx((course > figure).sum() / 3600, abs=0.03)


def test_climbs_by_range(fired: Any) -> None:
    report = fired.report()
    seconds = np.array(fired.seconds)
    middle = np.array(fired.celsius[report.reference])
    upward = seconds <= seconds[middle.argmax()]
    for one in report.ranges[1:-1]:
        began, ended = (np.interp(c, middle[upward], seconds[upward]) for c in (one.from_celsius, one.to_celsius))
        expected = (one.to_celsius - one.from_celsius) / (ended - began) * 3600
        assert one.rings[report.reference] == pytest.approx(expected, rel=0.02)


def test_cooling_through_the_inversions(fired: Any) -> None:
    report = fired.report()
    seconds = np.array(fired.seconds)
    middle = np.array(fired.celsius[report.reference])
    after = middle.argmax()
    for band in report.cooling:
        bounds = (band.from_celsius, band.to_celsius)
        began, ended = (np.interp(-c, -middle[after:], seconds[after:]) for c in bounds)
        expected = (bounds[0] - bounds[1]) / (ended - began) * 3600
        assert band.celsius_per_hour == pytest.approx(expected, rel=0.01)
