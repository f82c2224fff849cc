"""What every rule and estimate looks at: one firing at the close of one bin."""

from dataclasses import dataclass, field
from functools import cached_property
from math import hypot
from statistics import fmean

from spyhole.core.cones.correction import Sighting, Taught, corrected
from spyhole.core.cones.doubt import alpha_between, cone_deviation_celsius, factor_of, offset_prior
from spyhole.core.cones.kinetics import FASTEST_CELSIUS_PER_HOUR, Cone, end_point_celsius
from spyhole.core.cones.shutoff import TRIP_CELSIUS, trip_deviation_celsius
from spyhole.core.cones.tolerance import tolerance_celsius
from spyhole.core.curve.climb import Minute, since, theil_sen, value_at
from spyhole.core.curve.heat import Pack, Work, corrected_work
from spyhole.core.curve.track import Track
from spyhole.core.curve.trust import Doubts
from spyhole.core.duty import Duty
from spyhole.core.firing import Firing, unturned
from spyhole.core.kiln import Probe, Switch
from spyhole.core.learned import Belief
from spyhole.core.outcome import Forecast
from spyhole.core.plan import Stage
from spyhole.core.thermal.residual import Residual

SCATTER_CELSIUS = 20.0
"""Grace on a ceiling for the scatter of cones and shut-offs (common practice, no source)."""
LEAST_MORE_CELSIUS = 40.0
CANDLING_MORE = 0.15
LOAD_MORE = 0.35
"""How much more than last time a stage may rise, as a share of what it rose then. While candling the kiln's losses
decide; with the rings on, the ware: half as much of it in walls that hold as much again rises a third more (common
practice, no source). What the switches cannot explain is a runaway, whatever the last load was."""
DUE_SHARE = 0.75
TURNED_CELSIUS = 50.0
"""Once a stage is as good as over, it may have been turned and not written down: by so much the air leaps ahead before
the curve has shown that (300 degC/h for ten minutes: common practice, no source)."""
BORROWED_CELSIUS = 12.0
NEVER_SEEN_CELSIUS, SEEN_WITHIN_CELSIUS = 20.0, 200.0
"""What is not known of a ring that is only seen through its neighbours [degC, one deviation]: of one that was seen
itself within so much of as hot, and of one that was not, as the middle of a tall kiln between its ends (chosen)."""

MISLED_MS = 45 * 60_000
"""What the model needs to know a kiln again that it had been told wrong things of."""


@dataclass(frozen=True)
class View:
    """now_ms: axis time. fit: which probes are trusted. celsius: per probe, borrowed from the others where not fit.

    cone_down: as forecast a minute ago. left: each ring against the kiln model, bottom first; () before it stands, and
    between the minutes. Without slots, so that it can keep what every rule asks of it; a changed view begins anew.
    """

    now_ms: int
    utc_ms: int
    firing: Firing
    tracks: tuple[Track, ...]
    doubts: Doubts
    fit: tuple[bool, ...]
    celsius: tuple[float | None, ...]
    duty: Duty = field(default_factory=Duty)
    cone_down: Forecast | None = None
    left: tuple[Residual, ...] = ()

    @cached_property
    def probe_rings(self) -> tuple[int, ...]:
        """`Kiln.probe_rings`, found once."""
        return self.firing.kiln.probe_rings

    @cached_property
    def reference(self) -> int:
        """Index of the probe that decides about cones: the reference ring's, or the nearest ring's that has one."""
        return self.firing.kiln.probe_nearest(self.firing.plan.reference_ring)

    @property
    def pack(self) -> Pack:
        """The cones of this firing."""
        return self.firing.pack

    @cached_property
    def work(self) -> Work:
        """Heat work at the reference ring, corrected by the cones that were seen."""
        return self.work_of(self.reference)

    def work_of(self, probe: int) -> Work:
        """Heat work at the ring of this probe, corrected by the cones that were seen beside it."""
        firing = self.firing
        if not firing.sightings and not firing.learned.offsets:
            return firing.work[probe]
        return corrected_work(firing.work[probe], firing.pack, self.peak_of(probe), self.taught(probe).offset.value)

    def peak_of(self, probe: int) -> float:
        """The hottest this probe's ring has been [degC]; through its neighbours where the probe itself is lost."""
        firing, own = self.firing, self.firing.peaks[probe]
        if self.fit[probe] or not any(self.fit):
            return own
        level = fmean(firing.peaks[i] - firing.apart[i] for i, fit in enumerate(self.fit) if fit)
        return max(own, level + firing.apart[probe])

    def offset_before(self, probe: int) -> Belief:
        """What had to be added to this probe [degC] before any cone of this firing was seen."""
        peak = round(self.peak_of(probe) / 10.0) * 10.0
        return offset_prior(self.sensor(probe), peak, self.firing.learned.offset(probe))

    def taught(self, probe: int) -> Taught:
        """What the cones seen beside this probe say it is off by, and which entries cannot be true of it."""
        return corrected(self.offset_before(probe), self.seen_beside(probe))

    def seen_beside(self, probe: int) -> tuple[Sighting, ...]:
        """The cones seen beside this probe, but for entries taken back; oldest first."""
        undone = {w.sequence for w in self.firing.written if w.undone} if self.firing.sightings else set()
        return tuple(s for s in self.firing.sightings if s.probe == probe and s.sequence not in undone)

    def alpha_between(self, one: Cone, alpha: float) -> tuple[float, float]:
        """Low and high end at 80 % of this heat work at the reference ring: probe, lot of cones, chart."""
        probe = self.reference
        return alpha_between(one, alpha, self.peak_of(probe), self.taught(probe).offset.deviation)

    def ring_name(self, probe: int) -> str:
        """The name of the ring this probe looks at."""
        return self.firing.kiln.rings[self.probe_rings[probe]].name

    def switched(self, probe: int) -> Switch:
        """The believed setting of the ring this probe looks at."""
        return self.firing.switches[self.probe_rings[probe]]

    @property
    def alone(self) -> int | None:
        """The only probe that is believed, None where there are others or none."""
        return self.fit.index(True) if sum(self.fit) == 1 else None

    @property
    def misled(self) -> bool:
        """Whether the model has to learn anew: switches were turned while the kiln did what they could not explain, or
        power came back, and nobody knows to the minute when. Where it went astray it is left alone: what it has learned
        is wrong."""
        if self.firing.astray:
            return True
        memory = self.firing.memory
        since = (None if memory is None else memory.after_odd_ms, self.firing.back_ms)
        return any(at is not None and self.now_ms - at < MISLED_MS for at in since)

    @property
    def was_odd(self) -> bool:
        """Whether the kiln did not do as its model had it while it heated: what that learned as losses may be a lid
        that stood ajar then and is shut now, or watts that were lost."""
        memory = self.firing.memory
        return memory is not None and memory.odd_before_end

    def left_of(self, probe: int) -> Residual | None:
        """This probe's ring against the kiln model; None where that cannot be told, as of a probe just found wrong."""
        ring = self.probe_rings[probe]
        good = self.fit[probe] and self.doubts[probe] is None
        found = self.left[ring] if good and ring < len(self.left) and not self.misled else None
        return None if found is None or found.share is None else found

    def sensor(self, probe: int) -> Probe:
        """The probe as the kiln describes it."""
        return self.firing.kiln.sensor(probe)

    def doubt_factor(self, one: Cone) -> float:
        """How many times more or less heat work the sensor's tolerance may hide [>= 1]."""
        celsius = self.celsius[self.reference]
        if celsius is None:
            return 1.0
        sensor = self.sensor(self.reference)
        off = tolerance_celsius(sensor.tolerance_class, celsius, sensor.type)
        if self.firing.sightings:
            surer = self.taught(self.reference).offset.deviation / self.offset_before(self.reference).deviation
            off *= min(surer, 1.0)
        if not self.fit[self.reference]:
            off = hypot(off, 2.0 * self._borrowed_celsius())  # a tolerance is read as two deviations
        return self.surely(one, off)

    def shutoff_deviation(self) -> float:
        """How far the shut-off's cone may be from its number by the probe that decides [degC, one deviation]."""
        late, offset = self.firing.learned.shutoff_late, self.taught(self.reference).offset
        known = hypot(trip_deviation_celsius(late, offset), cone_deviation_celsius(self.pack.shutoff))
        return known if self.fit[self.reference] else hypot(known, self._borrowed_celsius())

    def ware_deviation(self) -> float:
        """How far the heat work of the ware may be from what the probe that decides says, and how far a shut-off that
        is known may trip from its mean [degC, one deviation].

        How early or late a shut-off is that nobody knows is no part of it: the ware is short all the same.
        """
        offset = self.taught(self.reference).offset.deviation
        known = hypot(offset, cone_deviation_celsius(self.pack.firing), TRIP_CELSIUS)
        return known if self.fit[self.reference] else hypot(known, self._borrowed_celsius())

    def _borrowed_celsius(self) -> float:
        """What is not known of the ring that decides, while its own probe is not trusted [degC, one deviation]."""
        hottest = max((peak for peak, fit in zip(self.firing.peaks, self.fit, strict=True) if fit), default=0.0)
        seen = self.firing.peaks[self.reference] > hottest - SEEN_WITHIN_CELSIUS
        return BORROWED_CELSIUS if seen else NEVER_SEEN_CELSIUS

    def surely(self, one: Cone, off_celsius: float) -> float:
        """How many times more or less heat work an error of so much may hide at the probe that decides [>= 1]."""
        celsius = self.celsius[self.reference]
        return 1.0 if celsius is None else factor_of(off_celsius / one.width_celsius(celsius))

    def recent_climb(self, probe: int, minutes: int) -> float | None:
        """Robust climb [degC/h] of the last so many minutes."""
        return theil_sen(self.last(probe, minutes))

    def last(self, probe: int, minutes: int) -> tuple[Minute, ...]:
        """The last so many minutes of a probe."""
        return since(self.tracks[probe].minutes, self.now_ms - minutes * 60_000)


def ceiling_celsius(firing: Firing, now_ms: int) -> float | None:
    """What no trusted ring should pass now: the plan's own, the last good firing's end, or the cone's [degC]."""
    firing = unturned(firing)
    stage = firing.now_stage
    limit = firing.kiln.maximum_celsius
    if stage.ceiling_celsius is not None:
        return min(stage.ceiling_celsius, limit)
    pack = firing.pack
    hottest_cone = max(end_point_celsius(c, FASTEST_CELSIUS_PER_HOUR) for c in (pack.firing, pack.shutoff))
    last = min(hottest_cone + tolerance_celsius(2, hottest_cone) + SCATTER_CELSIUS, limit)
    ends = [c for c in stage.expected_end_celsius or () if c is not None]
    if (
        stage.until_cone
        or not ends
        or stage.hours is None
        or _turned_down(firing)
        or (firing.stage > 0 and not any(firing.sure))
        or _turned_on_from(firing)
    ):
        # Where nobody wrote the turn down, or not as it was, the stage is a guess and the last firing's end no limit.
        return last
    # A keeper who turns late lets the stage run on: the ceiling goes on rising as the stage would.
    hours, end = stage.expected_hours or stage.hours, max(ends)
    gone_hours = (now_ms - firing.stage_ms) / 3_600_000
    over_hours = max(0.0, gone_hours - hours)
    began = _begins_at(firing)
    rise = max(0.0, end - (firing.room_celsius if began is None else began))
    warmer = firing.warmer[1] if firing.warmer is not None and firing.warmer[0] == firing.stage else 0.0
    more = CANDLING_MORE if Switch.OFF in stage.switches else LOAD_MORE
    turned = TURNED_CELSIUS if gone_hours > DUE_SHARE * stage.hours else 0.0
    return min(end + max(LEAST_MORE_CELSIUS, more * rise) + warmer + turned + over_hours * rise / hours, last)


def warmer_than_last(view: View) -> tuple[int, float] | None:
    """The stage, and by how much its hottest ring began it above where the last firing's did [degC]: a stage that
    begins so ends so, and what led there was the stage before's to tell. The first began in a kiln as cold as its room,
    as far as anybody knows, and may now be lit warm. None where either is not known."""
    firing = view.firing
    if firing.warmer is not None and firing.warmer[0] == firing.stage:
        return firing.warmer
    ended = _begins_at(firing)
    began = [value_at(view.tracks[i].minutes, firing.stage_ms) for i, fit in enumerate(view.fit) if fit]
    known = [c for c in began if c is not None]
    return (firing.stage, max(0.0, round(max(known) - ended, 1))) if known and ended is not None else None


def _begins_at(firing: Firing) -> float | None:
    """What the hottest ring should stand at as this stage begins: the room, or where the last good firing ended the
    stage before [degC]; None where that is not known."""
    if not firing.stage:
        return firing.room_celsius
    ends = firing.plan.stages[firing.stage - 1].expected_end_celsius or ()
    return max((c for c in ends if c is not None), default=None)


def _turned_on_from(firing: Firing) -> bool:
    """Whether most rings are believed to stand higher than this stage has them: then it is a later one by now."""
    of = firing.kiln.switch.of
    higher = [of(now) > of(planned) for now, planned in zip(firing.switches, firing.now_stage.switches, strict=True)]
    return 2 * sum(higher) > len(higher)


def _turned_down(firing: Firing) -> bool:
    """Whether this stage gets less than one before it, as a hold while cooling does: it begins at its hottest."""

    def share(stage: Stage) -> float:
        return sum(firing.kiln.switch.of(switch) for switch in stage.switches)

    return any(share(before) > share(firing.now_stage) for before in firing.plan.stages[: firing.stage])
