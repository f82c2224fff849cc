"""Fires a case of the other hand: keeper, shut-off and trouble at the kiln, and what comes of it."""

import random
from dataclasses import replace
from functools import lru_cache
from math import inf

from other_cones import kinetics
from other_far import far
from other_hand import (
    DAMP_CELSIUS_PER_HOUR,
    HOUR,
    OF_A_PROBE,
    SPREAD_CELSIUS,
    TROUBLED,
    Case,
    Fired,
    Upset,
    draw,
    earlier,
    harder,
    upset,
)  # fmt: skip
from other_kiln import Chamber, element_watts

PLUGS = {"in": 0.0, "half": 0.8, "out": 1.8}
"""What a ring's open plugs let out [W/K]; common practice, no source, as all below."""
PEEK, PEEK_SECONDS = 2.5, 90.0
LID = {"cracked": 4.0, "open": 45.0}
OPEN_CELSIUS = 100.0
DAMP_SECONDS = 300.0
LONGEST_HOURS = 50.0
RELIT_SECONDS = 2 * HOUR
ISOLATED_SECONDS = {"still-on": 2 * HOUR, "ring-left-low": 16 * HOUR}
"""After the end somebody comes by and switches the ring off at the wall."""


class Keeper:
    """One firing, step by step. patience: when the keeper gives a firing up and turns all off [s]."""

    def __init__(self, case: Case, wrong: Upset, step_seconds: float, patience: float) -> None:
        self.case, self.wrong, self.patience, self.step = case, wrong, patience, step_seconds
        self.chamber = Chamber(case.build, case.wares, case.start, case.room, step_seconds)
        self.fired = Fired()
        self.t = 0.0
        self.stage, self.since = -1, 0.0
        self.switches: tuple[str, ...] = ("off",) * 3
        self.lid = "closed"
        self.tips = list(self.chamber.air)
        self.work = self.trip_work = self.hottest = 0.0
        self._cone, self._guard = kinetics(case.cone), kinetics(harder(case.cone))
        self._damp: list[tuple[float, float] | None] = [None] * len(case.wares)

    def run(self) -> Fired:
        """Until it is cold, or too long."""
        f = self.fired
        while self.t < LONGEST_HOURS * HOUR and (f.open_100 is None or self.t < f.open_100 + HOUR):
            self._turn()
            self._end()
            self._open()
            lid = self.wrong.amount if self.lid == "ajar" else LID.get(self.lid, 0.0)
            self.chamber.step(self._watts(), self._draught(), lid)
            self.t += self.step
            self._see()
        return f

    def _begins(self, at: float) -> None:
        if self.fired.onset is None:
            self.fired.onset = at

    def _turn(self) -> None:
        """The keeper turns to the next stage, by the clock."""
        case, kind = self.case, self.wrong.kind
        if self.fired.off is not None:
            return
        due = case.lit if self.stage < 0 else self.since + case.stages[self.stage].seconds + case.lateness[self.stage]
        if self.t < due or self.stage == len(case.stages) - 1:
            return
        self.stage, self.since = self.stage + 1, self.t
        switches = list(case.stages[self.stage].switches)
        left = {"switch-left-low": "low", "switch-left-medium": "medium"}.get(kind)
        if left and self.stage == len(case.stages) - 1:
            switches[self.wrong.ring] = left
            self._begins(self.t)
        if kind == "night-switch-high" and self.stage == 0:
            switches[0] = "high"
            self._begins(self.t)
        self.switches = tuple(switches)
        self.fired.turns.append((self.t, self.stage, self.switches))

    def _end(self) -> None:
        """The shut-off, the timer, or the keeper ends the heating."""
        f, wrong = self.fired, self.wrong
        if f.off is not None or self.stage < 0:
            return
        trips = self.trip_work >= 1
        if wrong.kind == "shutoff-jams":
            if trips:
                self._begins(self.t)
            trips = f.onset is not None and self.t > f.onset + wrong.amount
        elif (wrong.kind == "tripped-early" and self.work > wrong.amount) or (
            wrong.kind == "timer-ran-out" and self.t > wrong.at
        ):
            self._begins(self.t)
            trips = True
        if trips or self.t > self.patience:
            f.off, self.switches, f.by_hand = self.t, ("off",) * 3, not trips
            f.trip = self.t if trips and wrong.kind != "timer-ran-out" else None
            f.turns.append((self.t, -1, self.switches))

    def _open(self) -> None:
        f, wrong, hottest = self.fired, self.wrong, max(self.chamber.ware)
        if f.off is None:
            self.lid = "ajar" if wrong.kind == "lid-ajar" and self.t > wrong.at else "closed"
        elif wrong.kind == "lid-opened-hot":
            if hottest < wrong.amount and self.lid != "open":
                self.lid = "open"
                self._begins(self.t)
        elif self.lid == "ajar":
            self.lid = "closed"  # whoever looks after the end sees it
        elif hottest < self.case.crack and self.lid == "closed":
            self.lid, f.lid["cracked"] = "cracked", self.t
        elif hottest < OPEN_CELSIUS - 5 and self.lid == "cracked":
            self.lid, f.lid["open"] = "open", self.t

    def _draught(self) -> float:
        plugs = self.case.stages[max(self.stage, 0)].plugs
        return PLUGS[plugs] + PEEK * any(at < self.t < at + PEEK_SECONDS for at in self.case.peeks)

    def _watts(self) -> list[float]:
        case, wrong, t = self.case, self.wrong, self.t
        after = None if self.fired.off is None else t - self.fired.off
        volts = case.volts * (wrong.amount if wrong.kind == "stall-sag" and t > wrong.at else 1.0)
        found = []
        for i, rated in enumerate(case.watts):
            share = case.shares[self.switches[i]]
            if after is not None and wrong.kind in ISOLATED_SECONDS and i == wrong.ring:
                self._begins(t)
                on = after < ISOLATED_SECONDS[wrong.kind]
                share = on * (case.shares["low"] if wrong.kind == "ring-left-low" else 1.0)
            if wrong.kind == "relit-after-trip" and after is not None and 0 < after - wrong.amount < RELIT_SECONDS:
                self._begins(t)
                share = 1.0
            if wrong.kind in ("ring-opens", "half-element") and i == wrong.ring and t > wrong.at:
                share *= wrong.amount
            if wrong.kind in ("power-lost", "power-back") and wrong.at < t < wrong.until:
                share = 0.0
            found.append(element_watts(rated, share, volts, case.wear))
        return found

    def _see(self) -> None:
        """Cones and probes after a step."""
        f, heat, case, t = self.fired, self.chamber, self.case, self.t
        middle = len(heat.air) // 2
        at_cone = 0.3 * heat.wall[middle][0] + 0.4 * heat.ware[middle] + 0.3 * heat.air[middle] - case.cone_off
        at_trip = 0.5 * heat.wall[middle][0] + 0.25 * heat.ware[middle] + 0.25 * heat.air[middle] - case.trip_off
        if at_cone > 450:
            self.work += self.step * self._cone.rate(at_cone)
            f.guard += self.step * self._guard.rate(at_cone)
            self.trip_work += self.step * self._cone.rate(at_trip)
        if f.down is None and self.work >= 1:
            f.down = t
        for i, eye in enumerate(case.eyes):
            tip = eye.air * heat.air[i] + eye.wall * heat.wall[i][0] + (1 - eye.air - eye.wall) * heat.ware[i]
            self.tips[i] += (tip - self.tips[i]) * min(1.0, self.step / eye.lag_seconds)
        f.tips.append((t, tuple(self.tips)))
        f.work.append(self.work)
        hottest = max(heat.ware)
        self.hottest = max(self.hottest, hottest)
        if f.open_100 is None and self.hottest > 300 and hottest < OPEN_CELSIUS:
            f.open_100 = t
        if f.off is None and min(self.tips) > 600:
            f.apart = max(f.apart, max(self.tips) - min(self.tips))
        for i, celsius in enumerate(self.tips):
            began = self._damp[i]
            if not 80 <= celsius <= 150 or heat.water[i] <= 0:
                self._damp[i] = None
            elif began is None:
                self._damp[i] = (t, celsius)
            elif t - began[0] >= DAMP_SECONDS:
                hasty = (celsius - began[1]) / (t - began[0]) * HOUR > DAMP_CELSIUS_PER_HOUR
                f.hurried, self._damp[i] = f.hurried or (hasty and case.raw), (t, celsius)


def fire(case: Case, wrong: Upset | None = None, *, step_seconds: float = 10.0, patience: float = inf) -> Fired:
    """Fire it. Readings are kept at every step."""
    fired = Keeper(case, wrong or Upset(), step_seconds, patience).run()
    if wrong is not None and wrong.at < inf and fired.onset is None:
        fired.onset, fired.begun = wrong.until if wrong.kind == "power-back" else wrong.at, wrong.at
    return fired


def made_strong(case: Case) -> Case | None:
    """As its maker leaves it: it reaches the cone in the hours that a potter expects, and its rings fire alike.

    None: no such kiln after twenty trials.
    """
    d = random.Random(f"other hand, made {case.kind} {case.seed}")
    wanted, last = d.uniform(3.5, 8) * HOUR, len(case.stages) - 1
    for _ in range(20):
        trial = fire(replace(case, lateness=(0.0,) * (last + 1)), step_seconds=30.0)
        turned = trial.turned(last)
        if trial.trip is None or trial.down is None or turned is None or trial.trip > turned + wanted:
            case = replace(case, watts=tuple(w * 1.06 for w in case.watts))
            continue
        tips = trial.tips_at(trial.trip)
        if max(tips) - min(tips) < 0.4 * SPREAD_CELSIUS:
            uneven = [d.uniform(0.985, 1.015), 1.0, d.uniform(0.985, 1.015)]
            return replace(case, watts=tuple(w * u for w, u in zip(case.watts, uneven, strict=True)))
        case = replace(
            case, watts=tuple(w * (1 + (tips[1] - tip) / 600) for w, tip in zip(case.watts, tips, strict=True))
        )
    return None


@lru_cache(maxsize=4)
def firing(kind: str, seed: int, *, in_far: bool = False) -> tuple[Case, Fired, Fired, Fired, Upset] | None:
    """Case, what comes of it, of a twin without the trouble, of the firing before, and what went wrong.

    in_far: in one of the kilns of `other_far`.

    None: this draw is left out, for the reasons that `other_hand` gives, or because the trouble never began.
    """
    case = made_strong(far(draw(kind, seed)) if in_far else draw(kind, seed))
    if case is None:
        return None
    twin = fire(case)
    turned = twin.turned(len(case.stages) - 1)
    if twin.trip is None or twin.down is None or turned is None or twin.apart > SPREAD_CELSIUS - 5:
        return None
    wrong = upset(case, twin) if kind in TROUBLED else Upset()
    fired = twin
    if kind in TROUBLED and kind not in OF_A_PROBE:
        fired = fire(case, wrong, patience=twin.trip + 3 * HOUR)
    elif kind in OF_A_PROBE:
        fired = replace(twin, onset=wrong.at)
    if kind in TROUBLED and fired.onset is None:
        return None
    return case, fired, twin, fire(earlier(case)), wrong
