"""Ageing of elements: what is noticed, what is not, and that the intervals are what they say.

Kiln-years here are per-firing summaries, drawn with the error that the engine itself was measured to have on kilns of
the proving ground (`tests/proving/elements.py`; `APART_DEVIATION`, `WHOLE_DEVIATION`), heavier in its tails: one
firing in fifty strays three times as far (of 324 strengths measured the furthest strayed 3.4 deviations). No firing is
simulated in this file.
"""

import random
from collections.abc import Sequence
from math import log, sqrt

import numpy as np
import pytest
from scipy import stats

from spyhole.core.ageing import (
    APART_DEVIATION,
    DRIFT,
    DUE,
    WHOLE_DEVIATION,
    WORTH,
    Ageing,
    Mended,
    Seen,
    due_of,
    judge,
)
from spyhole.core.care import Care
from spyhole.core.learned import Belief
from spyhole.core.measured import Measured

WEEK = 7 * 86_400_000
A_YEAR = 156
"""Three firings a week."""
LEVELS = (-0.09, 0.06, 0.03)


def book(
    d: random.Random,
    firings: int,
    a_firing: Sequence[float] = (0.0, 0.0, 0.0),
    drops: dict[int, tuple[int, float]] | None = None,
    *,
    tails: bool = True,
    sag: dict[int, float] | None = None,
) -> list[Seen]:
    """So many firings. a_firing: what each ring loses of ln strength; drops: ring to (firing, loss) at once."""
    found = []
    for n in range(firings):
        wide = 3.0 if tails and d.random() < 0.02 else 1.0
        own = [
            level - loss * n - (drop[1] if (drop := (drops or {}).get(ring)) and n >= drop[0] else 0.0)
            + d.gauss(0, APART_DEVIATION * wide)
            for ring, (level, loss) in enumerate(zip(LEVELS, a_firing, strict=True))
        ]  # fmt: skip
        mean = sum(own) / 3
        whole = 6.5 + mean + d.gauss(0, WHOLE_DEVIATION) + (sag or {}).get(n, 0.0)
        apart = tuple(Belief(value - mean, 0.03) for value in own)
        found.append(Seen(n * WEEK // 3, Measured(n + 1, apart, Belief(whole, 0.1))))
    return found


def judged(seen: Sequence[Seen], mended: Sequence[Mended] = ()) -> Ageing:
    found = judge(seen, mended)
    assert found is not None
    return found


def weak(seen: Sequence[Seen]) -> list[int]:
    return [trend.ring for trend in judged(seen).rings if trend.weak]


def test_a_ring_that_loses_a_tenth_is_noticed_within_five_firings() -> None:
    seen_after = []
    for seed in range(40):
        d = random.Random(f"drop {seed}")
        before = d.choice((6, 12, 30, 60))
        seen = book(d, before + 5, drops={1: (before, -log(0.9))})
        assert weak(seen[:before]) == []
        first = next((n for n in range(1, 6) if weak(seen[: before + n]) == [1]), None)
        seen_after.append(first)
    assert all(n is not None for n in seen_after), seen_after
    assert sorted(n for n in seen_after if n)[len(seen_after) // 2] <= 3


def test_no_wrong_notice_in_fifty_healthy_kiln_years() -> None:
    """Healthy: up to three in a hundred a year, each ring its own. Asked after every third firing, and at the end."""
    wrong = []
    for year in range(50):
        d = random.Random(f"healthy year {year}")
        seen = book(d, A_YEAR, [d.uniform(0.0, 0.03) / A_YEAR for _ in LEVELS])
        for n in (*range(4, A_YEAR, 3), A_YEAR):
            named = weak(seen[max(0, n - 40) : n] if n % 2 else seen[:n])
            if named:
                wrong.append((year, n, named))
    assert wrong == []


def test_three_in_a_hundred_a_year_lies_in_the_stated_interval() -> None:
    """Eight times in ten, for the ring that ages alone and for rings that age alike; at 99 % by the binomial."""
    inside = []
    for seed in range(150):
        d = random.Random(f"three {seed}")
        loss = -log(0.97) / A_YEAR
        a_firing = (loss, 0.0, 0.0) if seed % 2 else (loss,) * 3
        firings = d.randint(40, A_YEAR)
        trend = judged(book(d, firings, a_firing, tails=False)).rings[0]
        inside.append(abs(trend.each.value - loss) <= 1.2816 * trend.each.deviation)
    low, high = stats.binom.interval(0.99, len(inside), 0.8)
    assert low <= sum(inside) <= high + 8  # the prior of the drift makes them a little wide where all age alike


def test_all_rings_down_together_is_no_ring_s_fault() -> None:
    seen = book(random.Random("sag"), 40, sag=dict.fromkeys(range(36, 40), log(0.9) * 3))
    found = judged(seen)
    assert [trend.ring for trend in found.rings if trend.weak] == []
    assert found.together is not None
    assert found.together.value < -0.2


def test_a_step_up_says_when_and_at_which_ring() -> None:
    seen = book(random.Random("renewed, and nobody wrote it down"), 30, drops={2: (20, -0.1)})
    (step,) = judged(seen).rings[2].steps
    assert step.change.value == pytest.approx(0.1, abs=0.03)
    assert 19 <= step.firing <= 22
    assert not judged(seen).rings[2].weak


def test_new_elements_begin_anew_and_a_new_probe_is_no_change_of_them() -> None:
    d = random.Random("mended")
    worn = book(d, 60, (0.002, 0.0, 0.0), {0: (40, -0.12), 1: (40, 0.07)})
    at = worn[40].utc_ms - 1
    mended = [Mended(at, 0, Care.ELEMENTS), Mended(at, 1, Care.PROBE)]
    renewed, probed, _ = judged(worn, mended).rings
    assert renewed.new_utc_ms == at
    assert renewed.firings == 20
    assert not renewed.weak
    assert probed.new_utc_ms is None
    assert probed.firings == 60
    assert not probed.weak
    assert probed.steps == ()
    assert judged(worn).rings[1].steps  # and without the entry it looks like a ring that went


def test_what_is_due_by_common_practice() -> None:
    assert pytest.approx(DUE) == log(1.1)
    due = due_of(Belief(0.05, 0.005), Belief(0.001, 0.0001))
    assert (due.low, due.about, due.high) == (40, 45, 52)
    assert due_of(Belief(0.02, 0.02), Belief(0.0, 0.001)).about is None
    assert due_of(Belief(0.12, 0.01), Belief(0.001, 0.0002)) == due_of(Belief(0.12, 0.01), Belief(0.002, 0.0002))


def test_too_little_to_say_anything() -> None:
    d = random.Random("few")
    assert judge(book(d, 2), ()) is None
    one_probe = [
        Seen(s.utc_ms, Measured(s.measured.firing, (None, Belief(0.0, 0.0), None), s.measured.whole))
        for s in book(d, 20)
    ]
    found = judged(one_probe)
    assert found.alone
    assert found.rings[0].lost.deviation > 0.012


def test_a_firing_in_which_a_probe_failed_takes_nothing_from_the_others() -> None:
    seen = book(random.Random("gap"), 30, (0.0, 0.002, 0.0))
    apart = seen[10].measured.apart
    seen[10] = Seen(seen[10].utc_ms, Measured(11, (apart[0], None, apart[2]), seen[10].measured.whole))
    assert judged(seen).rings[1].lost.value == pytest.approx(29 * 0.002, abs=0.03)


def test_drift_and_interval_are_those_of_generalised_least_squares_in_numpy() -> None:
    """The same model written down whole, with its covariance, and solved by numpy: no contrasts, no whitening."""
    firings = 25
    seen = book(random.Random("numpy"), firings, (0.001, 0.0, -0.0005), tails=False)
    y = np.array([[s.measured.whole.value + (b.value if b else 0.0) for b in s.measured.apart] for s in seen]).ravel()
    design = np.zeros((3 * firings, 6))
    for n in range(firings):
        for ring in range(3):
            design[3 * n + ring, 2 * ring : 2 * ring + 2] = 1.0, n
    covariance = np.kron(np.eye(firings), APART_DEVIATION**2 * np.eye(3) + WHOLE_DEVIATION**2 * np.ones((3, 3)))
    inverse = np.linalg.inv(covariance)
    precision = design.T @ inverse @ design + np.diag([1e-8, DRIFT**-2] * 3)
    answer = np.linalg.solve(precision, design.T @ inverse @ y)
    left = y @ inverse @ y - answer @ (design.T @ inverse @ y)
    scale = sqrt((WORTH + left) / (WORTH + 3 * firings - 6))
    deviations = np.sqrt(np.diag(np.linalg.inv(precision))) * scale
    for trend in judged(seen).rings:
        assert trend.each.value == pytest.approx(-answer[2 * trend.ring + 1], rel=1e-6, abs=1e-9)
        assert trend.each.deviation == pytest.approx(deviations[2 * trend.ring + 1], rel=1e-6)
