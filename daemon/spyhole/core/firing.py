"""A firing under way, as far as the watch believes it: which stage, which switches, lit or off.

Plan and entries are evidence. With entries, the stage is the one whose switches were last turned; without any,
the plan's clock says it, and a climb that steps up near a turn's time is taken for the turn.
"""

from dataclasses import dataclass, replace
from enum import StrEnum
from typing import TypeVar

from spyhole.core.concluded import Concluded, TurnAsked
from spyhole.core.cones.correction import Sighting
from spyhole.core.curve.heat import Pack, Work, pack_of
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.kiln import Kiln, Switch
from spyhole.core.leaning import Said
from spyhole.core.learned import Belief, Learned
from spyhole.core.measured import Measured
from spyhole.core.plan import Plan, Stage
from spyhole.core.preparation import Preparation
from spyhole.core.thermal.departure import Memory
from spyhole.core.thermal.fall import Fall
from spyhole.core.thermal.model import Model

T = TypeVar("T")

UNTAUGHT = Learned()
UNSEEN_MS = 90 * 60_000
UNSEEN_CELSIUS = 60.0
"""So long after its time a turn is believed though no curve shows it."""
FAR_TOO_EARLY_MS = 30 * 60_000
"""Who plans hours keeps to them within half of one (chosen)."""

_TOUCHED = (EntryKind.SWITCH, EntryKind.POWER, EntryKind.TIMER, EntryKind.SHUTOFF, EntryKind.LID, EntryKind.PLUGS)

UNKNOWN_APART = -1000.0
"""Below any distance between rings: nothing has been seen yet."""


class Stopped(StrEnum):
    """What the end of heating was: none; the cone down; short of it; lost while it should heat; unseen."""

    NOT = "not"
    DONE = "done"
    SHORT = "short"
    LOST = "lost"
    BY_HAND = "by hand"
    UNSEEN = "unseen"


@dataclass(frozen=True, slots=True)
class Written:
    """An entry as the fold met it. at_ms: axis time when it happened; utc_ms: the same on the wall."""

    sequence: int
    at_ms: int
    utc_ms: int
    entry: Entry
    undone: bool = False


@dataclass(frozen=True, slots=True)
class Firing:
    """id: sequence of its start entry. All *_ms are axis time unless they say utc.

    switches, sure: believed setting of each ring, and whether a person said so.
    stage: index into plan.stages. work: heat work per probe. peaks: hottest believed per probe.
    apart: each probe's usual distance from the mean; best_apart: the highest it has been
    since all switches stand alike.
    heating: false once every ring that should heat falls. off_ms: since when; off: it is over (tripped, or switched
    off), not only interrupted. guard_bend_at_down: where the guard stood when the firing cone went down.
    sightings: cones that people saw, undone ones too. learned: what was known of the kiln when this firing was lit.
    model: what is believed of its heat, once a minute; memory: as that was over the last hour. lost_ms, back_ms: when
    heating last ended unmeant, and when it came back. dried_ms: one a probe, counted up to dried_at_ms; see `steam`.
    alpha_at_end: heat work of the cone in the shut-off when heating ended. prepared: how the kiln was made ready,
    where anybody said.
    elements: how strong they were in this firing, from the end of heating until it is a row of the journal.
    got: what each ring got at each setting so far (`core.element_share`).
    heated: the kiln model as it was when heating had ended, for `Learned.model`; () before.
    foretold: when the cone would be down [axis ms], as it was first said so many of `learned.LEADS` hours before.
    down_said, off_said: a slow mean of when the cone, and the one in the shut-off, were said to go down (`leaning`).
    reached: a stage that ends at a temperature, and when that was reached. concluded: turns taken from curve or clock.
    turn_asked: the one that somebody is asked about now. denied: stages that the curve may not be read as before then.
    lacked: since when the ring of each probe gets less than its switch gives. fed: the same of what gets heat though
    the firing is over.
    warmer: a stage, and by how much its hottest ring began it above where the last firing's did [degC].
    astray: the model has learned what is not so: a runaway stood long, or probes are changed over.
    fall: how it cools, once it is off (`core.falling`).
    """

    id: int
    started_ms: int
    started_utc_ms: int
    kiln: Kiln
    plan: Plan
    room_celsius: float
    switches: tuple[Switch, ...]
    sure: tuple[bool, ...]
    work: tuple[Work, ...]
    apart: tuple[float, ...]
    best_apart: tuple[float, ...]
    peaks: tuple[float, ...]
    written: tuple[Written, ...] = ()
    stage: int = 0
    stage_ms: int = 0
    turned_ms: int = 0
    heating: bool = True
    falling_ms: int | None = None
    rising_ms: int | None = None
    off_ms: int | None = None
    off_utc_ms: int | None = None
    off: bool = False
    stopped: Stopped = Stopped.NOT
    tripped: bool = False
    timer_ends_ms: int | None = None
    cone_down_ms: int | None = None
    guard_bend_at_down: float | None = None
    said: tuple[str, ...] = ()
    sightings: tuple[Sighting, ...] = ()
    learned: Learned = UNTAUGHT
    model: Model | None = None
    memory: Memory | None = None
    lost_ms: int | None = None
    back_ms: int | None = None
    dried_ms: tuple[float, ...] = ()
    dried_at_ms: int = 0
    alpha_at_end: float | None = None
    ended: bool = False
    prepared: Preparation | None = None
    elements: Measured | None = None
    got: tuple[tuple[tuple[int, float], ...], ...] = ()
    heated: tuple[tuple[str, Belief], ...] = ()
    foretold: tuple[int, ...] = ()
    down_said: Said | None = None
    off_said: Said | None = None
    reached: tuple[int, int] | None = None
    concluded: tuple[Concluded, ...] = ()
    astray: bool = False
    turn_asked: TurnAsked | None = None
    denied: tuple[tuple[int, int], ...] = ()
    lacked: tuple[int | None, ...] = ()
    fed: tuple[int | None, ...] = ()
    warmer: tuple[int, float] | None = None
    fall: Fall | None = None

    @property
    def under_way(self) -> bool:
        """Whether it still goes on; not while it only cools."""
        return not self.off and not self.ended

    @property
    def now_stage(self) -> Stage:
        """The stage believed to be running."""
        return self.plan.stages[self.stage]

    @property
    def pack(self) -> Pack:
        """The cones of this firing."""
        return pack_of(self.plan.cone, self.plan.body, self.plan.shutoff_cone, self.learned.shutoff_late)

    def given(self, switches: tuple[Switch, ...]) -> float:
        """What these settings give all rings together [W]. switches: one a ring."""
        kiln = self.kiln
        return sum(kiln.switch.of(s) * ring.watts for s, ring in zip(switches, kiln.rings, strict=True))

    @property
    def changed_ms(self) -> int:
        """When the last turn, plug or lid was, or the stage began: the kiln settles from then on."""
        return max(self.turned_ms, self.stage_ms)

    @property
    def last_stage(self) -> bool:
        """Whether this is the stage that ends the firing."""
        return self.stage == len(self.plan.stages) - 1

    @property
    def candling(self) -> bool:
        """The first stage of a plan that has several: damp ware, low heat, often at night."""
        return self.stage == 0 and len(self.plan.stages) > 1


def open_firing(written: Written, kiln: Kiln, plan: Plan, room_celsius: float, learned: Learned = UNTAUGHT) -> Firing:
    """A firing from its start entry."""
    probes = len(kiln.probe_rings)
    cone = written.entry.value or plan.cone
    plan = plan if cone == plan.cone else replace(plan, cone=cone)
    return Firing(
        id=written.sequence,
        started_ms=written.at_ms,
        started_utc_ms=written.utc_ms,
        kiln=kiln,
        plan=plan,
        room_celsius=room_celsius,
        switches=plan.stages[0].switches,
        sure=(False,) * len(kiln.rings),
        work=(Work(),) * probes,
        apart=(0.0,) * probes,
        best_apart=(UNKNOWN_APART,) * probes,
        peaks=(room_celsius,) * probes,
        written=(written,),
        stage_ms=written.at_ms,
        turned_ms=written.at_ms,
        learned=learned,
    )


def write(firing: Firing, written: Written) -> Firing:
    """The firing after one more entry."""
    return _believe(replace(firing, written=(*firing.written, written)), written)


def strike(firing: Firing, sequence: int) -> Firing:
    """The firing after an undo: what is left of the entries is believed afresh; both stay in the record."""
    return believed_afresh(
        replace(firing, written=tuple(replace(w, undone=True) if w.sequence == sequence else w for w in firing.written))
    )


def believed_afresh(firing: Firing) -> Firing:
    """The firing by its entries and the turns concluded between them, in the order in which they came to be known."""
    afresh = replace(
        firing,
        switches=firing.plan.stages[0].switches,
        sure=(False,) * len(firing.kiln.rings),
        stage=0,
        stage_ms=firing.started_ms,
        tripped=False,
        timer_ends_ms=None,
    )
    for place in range(len(firing.written) + 1):
        for turn in firing.concluded:
            if turn.after == place:
                afresh = concluding(afresh, turn)
        if place < len(firing.written) and not firing.written[place].undone:
            afresh = _believe(afresh, firing.written[place])
    if afresh.off and not afresh.tripped and afresh.heating:
        afresh = replace(afresh, off=False, off_ms=None, off_utc_ms=None)
    return afresh


def _believe(firing: Firing, written: Written) -> Firing:
    entry = written.entry
    if entry.kind is EntryKind.SWITCH:
        ring = firing.kiln.ring_index(entry.subject)
        setting = Switch(entry.value)
        firing = replace(
            firing,
            switches=_put(firing.switches, ring, setting),
            sure=_put(firing.sure, ring, True),
            turned_ms=max(firing.turned_ms, written.at_ms),
        )
        if all(s is Switch.OFF for s in firing.switches):
            return close(firing, written.at_ms, written.utc_ms)
        return _stage_of_switches(firing, written.at_ms)
    if entry.kind is EntryKind.TIMER:
        return replace(firing, timer_ends_ms=written.at_ms + round(float(entry.value) * 60_000))
    if entry.kind is EntryKind.SHUTOFF and entry.value == "tripped":
        return replace(close(firing, written.at_ms, written.utc_ms), tripped=True)
    if entry.kind in (EntryKind.PLUGS, EntryKind.LID, EntryKind.POWER):
        return replace(firing, turned_ms=max(firing.turned_ms, written.at_ms))
    return firing


def concluding(firing: Firing, turn: Concluded) -> Firing:
    """The firing as it is believed after this turn."""
    firing = replace(
        firing,
        switches=turn.switches,
        sure=tuple(s and a is b for s, a, b in zip(firing.sure, firing.switches, turn.switches, strict=True)),
        turned_ms=max(firing.turned_ms, turn.at_ms),
    )
    return firing if turn.stage == firing.stage else replace(firing, stage=turn.stage, stage_ms=turn.at_ms)


def conclude(firing: Firing, switches: tuple[Switch, ...], at_ms: int, stage: int, *, seen: bool) -> Firing:
    """The firing with one more turn that nobody wrote down. seen: by the curve, not by the plan's clock alone."""
    early_ms = max(0, (turn_due_ms(firing) or at_ms) - at_ms) if stage > firing.stage else 0
    turn = Concluded(switches, firing.switches, at_ms, stage, len(firing.written), seen, firing.stage_ms, early_ms)
    return concluding(replace(firing, concluded=(*firing.concluded, turn)), turn)


def unturned(firing: Firing) -> Firing:
    """The firing in the stage before, where the curve alone shows a turn long before its time that nobody wrote down,
    though they write them down: that may as well be a switch too high."""
    turn = firing.concluded[-1] if firing.concluded else None
    if turn is None or not turn.seen or turn.early_ms < FAR_TOO_EARLY_MS or not logs_switches(firing):
        return firing
    stands = firing.switches == turn.switches and firing.stage == turn.stage > 0
    if not stands or all(firing.sure[ring] for ring in turn.rings):
        return firing
    sure = (True,) * len(firing.sure)
    return replace(firing, stage=turn.stage - 1, stage_ms=turn.began_ms, switches=turn.before, sure=sure)


def close(firing: Firing, at_ms: int, utc_ms: int) -> Firing:
    """Heating is over for good: tripped, or every switch off."""
    if firing.off:
        return firing
    return replace(firing, off=True, off_ms=firing.off_ms or at_ms, off_utc_ms=firing.off_utc_ms or utc_ms)


def _stage_of_switches(firing: Firing, at_ms: int) -> Firing:
    """The first later stage whose switches stand as they stand now, unless this one's do; or the next one, where every
    ring stands as high as that has it: one was written down, or turned, too high."""
    if firing.switches == firing.now_stage.switches:
        return firing
    for index in range(firing.stage + 1, len(firing.plan.stages)):
        if firing.plan.stages[index].switches == firing.switches:
            return replace(firing, stage=index, stage_ms=at_ms)
    if firing.last_stage:
        return firing
    of, following = firing.kiln.switch.of, firing.plan.stages[firing.stage + 1].switches
    more = firing.given(following) > firing.given(firing.now_stage.switches)
    if more and all(of(a) >= of(b) for a, b in zip(firing.switches, following, strict=True)):
        return replace(firing, stage=firing.stage + 1, stage_ms=at_ms)
    return firing


def _put(values: tuple[T, ...], index: int, value: T) -> tuple[T, ...]:
    return (*values[:index], value, *values[index + 1 :])


def logs_switches(firing: Firing) -> bool:
    """Whether anybody has logged a turn in this firing."""
    return any(w.entry.kind is EntryKind.SWITCH and not w.undone for w in firing.written)


def advance(
    firing: Firing, now_ms: int, reference_celsius: float | None, stepped_up: bool, *, stays_cold: bool = False
) -> Firing:
    """The stage by plan and curve, once a minute, where no entry says it.

    stepped_up: the climb has risen as it does after a turn. stays_cold: a ring that the next stage lights has not
    warmed, so that nobody has turned to it, whatever the clock says.
    """
    if firing.last_stage or firing.off or (stays_cold and held_since_ms(firing) is None):
        return firing
    stage = firing.now_stage
    if stage.until_celsius is not None and held_since_ms(firing) is None:
        if reference_celsius is None or reference_celsius < stage.until_celsius:
            return firing
        firing = replace(firing, reached=(firing.stage, now_ms))
    # Where the model follows the kiln it sees turns itself (`core.turns`); the clock is for what it cannot see.
    silent = firing.plan.stages[firing.stage + 1].switches == firing.switches
    seen = firing.model is not None and not silent
    at_ms = now_ms
    if stage.hours is not None:
        due_ms = firing.stage_ms + round(stage.hours * 3_600_000) + (UNSEEN_MS if seen else 0)
        early_ms = firing.stage_ms + round(stage.hours * 0.8 * 3_600_000)
        by_clock = now_ms >= due_ms and (silent or not logs_switches(firing))
        by_curve = now_ms >= early_ms and stepped_up and not seen
        if not (by_clock or by_curve):
            return firing
        # What no curve showed was done when it was due, for all anybody knows.
        at_ms = now_ms if by_curve else firing.stage_ms + round(stage.hours * 3_600_000)
    elif stage.until_celsius is not None:
        margin = UNSEEN_CELSIUS if seen else 0.0
        hot = reference_celsius is not None and reference_celsius >= stage.until_celsius + margin
        held = now_ms >= (turn_due_ms(firing) or now_ms)
        if not (hot and held and not logs_switches(firing)):
            return firing
    else:
        return firing
    if is_denied(firing, firing.stage + 1, now_ms):
        return firing
    following = firing.plan.stages[firing.stage + 1].switches
    by_curve_too = stepped_up and not seen
    return conclude(firing, following, at_ms, firing.stage + 1, seen=by_curve_too)


def is_denied(firing: Firing, stage: int, now_ms: int) -> bool:
    """Whether somebody has just said that this stage has not begun."""
    return any(one == stage and now_ms < until_ms for one, until_ms in firing.denied)


def held_since_ms(firing: Firing) -> int | None:
    """When the temperature that ends this stage was reached [axis]; None before, and where none does."""
    return firing.reached[1] if firing.reached is not None and firing.reached[0] == firing.stage else None


def turn_due_ms(firing: Firing) -> int | None:
    """When the plan says to turn to the next stage [axis]; None while only the curve will tell.

    By the clock; or, once the stage's temperature is reached, after it was held there as long as the plan says.
    """
    if firing.last_stage or firing.off:
        return None
    stage, held_ms = firing.now_stage, held_since_ms(firing)
    if stage.hours is not None:
        return firing.stage_ms + round(stage.hours * 3_600_000)
    return None if held_ms is None else held_ms + round(stage.soak_minutes * 60_000)


def surely_off_ms(firing: Firing) -> int:
    """Since when nothing was meant to heat [axis ms]: heat thought lost may have gone on until somebody turned all off.

    0 where it is not off.
    """
    turned = (w.at_ms for w in firing.written if w.entry.kind is EntryKind.SWITCH and not w.undone)
    by_hand = max(turned, default=0) if firing.stopped is Stopped.BY_HAND else 0
    return max(firing.off_ms or 0, by_hand)


def touched(firing: Firing, since_ms: int) -> bool:
    """Whether somebody wrote down since then that they had a hand on the kiln; lost power is seen from afar."""
    return any(
        w.entry.kind in _TOUCHED and w.entry.value != "lost" and w.at_ms >= since_ms and not w.undone
        for w in firing.written
    )
