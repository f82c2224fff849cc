"""Holds the watch of one kiln: tells it everything that happens, in order, and passes on what it concludes.

One lock orders the rows: whoever has something to tell takes the next sequence and the time under it, so the journal's
order and its clock agree. Nothing under the lock waits for a disk, a channel or a page; what breaks there is
said as a condition and never stops the sampler.
"""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from spyhole.core import words
from spyhole.core.entry import EntryKind
from spyhole.core.forms.entries_csv import check_entry
from spyhole.core.journal import Acknowledgement, Clock, Reset, Row, Settings, Told, Undo
from spyhole.core.kiln import Kiln
from spyhole.core.moment import Moment
from spyhole.core.outcome import Action, AlarmOutcome, Outcome, Priority, PromptOutcome
from spyhole.core.plan import Plan
from spyhole.core.ports import ClockPort, RehearsalPort
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.services import curve as drawing
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive, Batch, Checkpoint, Firing, Mark, Message, Step
from spyhole.services.conditions import Conditions
from spyhole.services.desk import Curve, CurveMark, Done, FiringSummary
from spyhole.services.keeping import Keeping, Kept
from spyhole.services.portray import portray
from spyhole.services.snapshot import PanelView, Snapshot
from spyhole.services.telling import DISK_SECONDS, Telling

log = logging.getLogger(__name__)

CHECKPOINT_MINUTES = 5
"""A minute's rows are folded in a few milliseconds, and a checkpoint writes as much as all readings of its minute:
each minute it would be a third of all that the card has to bear (`make bench`)."""

CLOCK_EVERY_MS = 600_000
CLOCK_STEP_MS = 2_000
"""The wall clock is written down each ten minutes, and at once when it has stepped by more than this."""


@dataclass(frozen=True, slots=True)
class Studio:
    """What the watchkeeper is told of its place. The texts go into the kiln book with each firing."""

    kiln: Kiln
    plan: Plan
    kiln_toml: str
    plan_toml: str
    manner: words.Manner
    tick_seconds: float
    emulated: bool = False


@dataclass(frozen=True, slots=True)
class Codec:
    """How a state becomes bytes and back. version: changes with the form of the state."""

    version: int
    freeze: Callable[[Keeping], bytes]
    thaw: Callable[[bytes], Keeping]


@dataclass(frozen=True, slots=True)
class _Last:
    """The last row, and the last that said what the wall clock says."""

    sequence: int = 0
    boot: str = ""
    clock_offset_ms: int = 0
    clock_ms: int = 0
    synchronised: bool = False


class Watchkeeper:
    """Satisfies `services.desk.Desk`."""

    def __init__(
        self,
        studio: Studio,
        clock: ClockPort,
        archive: Archive,
        telling: Telling,
        conditions: Conditions,
        codec: Codec,
        rehearsal: RehearsalPort | None = None,
        *,
        checkpoints: bool = True,
    ) -> None:
        """checkpoints: False where the record is being filled faster than anybody could stop it."""
        self._studio = studio
        self._clock = clock
        self._archive = archive
        self._telling = telling
        self._conditions = conditions
        self._codec = codec
        self._rehearsal = rehearsal
        self._checkpoints = checkpoints
        self._lock = threading.Lock()
        self._keeping = fold.begin()
        self._last = _Last()
        self._followers: list[Callable[[], None]] = []
        self._tick_ms = max(1, round(studio.tick_seconds * 1000))
        self._news = 0
        self._drawn: tuple[int, Snapshot] | None = None
        conditions.changed = self._wake

    # What the daemon does with it

    def recover(self, progress: Callable[[int], None] = lambda rows: None) -> int:
        """Rebuild the state from the record: the newest checkpoint that fits and the tail, or every row.

        Outcomes of these rows were committed with them, and are not told again. Returns the rows folded.
        """
        kiln = self._studio.kiln.name
        keeping, sequence = fold.begin(), 0
        for checkpoint in self._archive.checkpoints(kiln):
            if checkpoint.version != self._codec.version:
                continue
            try:
                keeping, sequence = self._codec.thaw(checkpoint.blob), checkpoint.sequence
                break
            except ValueError:
                log.warning("the checkpoint after row %d cannot be read; an older one is taken", checkpoint.sequence)
        folded = 0
        for row in self._archive.rows_after(kiln, sequence):
            keeping, _ = fold.keep(keeping, row)
            sequence = row.sequence
            folded += 1
            if folded % 10_000 == 0:
                progress(folded)
        with self._lock:
            self._keeping = keeping
            self._last = _Last(sequence)
        return folded

    def begin(self) -> None:
        """The first rows of this run: what the clock says, and kiln and plan where they are not as before."""
        state = self._keeping.state
        changed = (state.kiln, state.plan) != (self._studio.kiln, self._studio.plan)
        self._tell(*((Settings(self._studio.kiln, self._studio.plan),) if changed else ()), urgent=True)

    def take(self, reading: Reading) -> None:
        """A reading from the sampler."""
        self._tell(reading, urgent=False)

    def close(self) -> None:
        """A last checkpoint, so that the next start has nothing to fold."""
        with self._lock:
            if self._last.sequence:
                self._archive.put(Batch(checkpoint=self._checkpoint(), urgent=True))

    # Desk

    def now(self) -> Snapshot:
        """The latest snapshot; drawn when somebody looks, and once for everybody who looks at the same tick."""
        news, drawn = self._news, self._drawn
        moment = self._clock.now()
        if drawn is not None and drawn[0] == news and moment.utc_ms - drawn[1].now_utc_ms in range(self._tick_ms):
            return drawn[1]
        panel = self._panel()
        snapshot = portray(
            self._keeping.state,
            moment,
            speed=panel.speed if panel is not None else 1.0,
            tick_seconds=self._studio.tick_seconds,
            emulated=self._studio.emulated,
            manner=self._studio.manner,
            conditions=self._conditions.views(),
            panel=panel,
        )
        self._drawn = news, snapshot
        return snapshot

    def follow(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Have `wake` called at each new snapshot; returns the way to stop."""
        with self._lock:
            self._followers = [*self._followers, wake]

        def stop() -> None:
            with self._lock:
                self._followers = [w for w in self._followers if w is not wake]

        return stop

    def curve(self, firing: int | None, points: int) -> Curve | None:
        """The curve of a firing (None: the one under way or the last), at most about `points` instants."""
        kiln = self._studio.kiln.name
        if firing is None:
            summary = self._keeping.summary
            if summary is None:
                return None
            firing = summary.id
        kept = self._archive.firing(kiln, firing)
        if kept is None:
            return None
        marks = [
            CurveMark(mark.utc_ms, _kind(mark), words.mark(mark.what, self._studio.manner))
            for mark in self._archive.marks(kiln, firing)
            if not mark.undone and not (isinstance(mark.what, AlarmOutcome) and mark.what.action is not Action.RAISE)
        ]
        return drawing.draw(firing, self._studio.kiln, self._archive.minutes(kiln, firing, points), marks)

    def firings(self) -> list[FiringSummary]:
        """The kiln book, newest first."""
        now = fold.line_of_the_book(self._keeping)
        kept = self._archive.firings(self._studio.kiln.name)
        return [now if now is not None and now.id == line.id else line for line in kept]

    def acknowledge(self, episode: str, who: str) -> Done:
        """Somebody has seen this episode."""
        standing = [alarm.episode for alarm in self.now().alarms]
        if episode not in standing:
            raise Refusal("episode", f"no alarm is called {episode!r}", f"there are {', '.join(standing) or 'none'}")
        return self._act(Acknowledgement(episode, who))

    def reset(self, episode: str, who: str) -> Done:
        """Put a latched episode back to normal: only once it is over and acknowledged."""
        standing = {alarm.episode: alarm for alarm in self.now().alarms}
        alarm = standing.get(episode)
        if alarm is None or alarm.state != "latched" or not alarm.acknowledged:
            allowed = "it has to be over and acknowledged first"
            raise Refusal("episode", f"{episode!r} is no alarm that waits for a reset", allowed)
        return self._act(Reset(episode, who))

    def enter(self, kind: str, subject: str, value: str, who: str) -> Done:
        """Write an entry."""
        entry = check_entry(kind, subject, value, who, self._studio.kiln, self._studio.plan)
        firing = self._keeping.state.firing
        if entry.kind is EntryKind.START and firing is not None and not firing.off:
            raise Refusal(
                "kind", "a firing is under way", "log every switch off, or the shut-off tripped, to end it first"
            )
        return self._act(entry)

    def undo(self, sequence: int, who: str) -> Done:
        """Take an entry back; both stay in the record."""
        there = [entry.sequence for entry in self.now().entries if entry.sequence is not None and not entry.undone]
        if sequence not in there:
            raise Refusal("sequence", f"no entry that can be taken back has the number {sequence}")
        return self._act(Undo(sequence, who))

    def throw_trouble(self, trouble: str) -> None:
        """Rehearsal only: throw a trouble in."""
        panel = self._need_panel()
        try:
            panel.throw(trouble)
        except ValueError as error:
            raise Refusal("trouble", str(error)) from None
        self._wake()

    def turn_panel_switch(self, ring: str, setting: str) -> None:
        """Rehearsal only: turn a switch of the emulated kiln."""
        panel = self._need_panel()
        try:
            panel.turn(ring, setting)
        except ValueError as error:
            raise Refusal("switch", str(error)) from None
        self._wake()

    def set_panel_speed(self, speed: float) -> None:
        """Rehearsal only: kiln seconds a second, at most."""
        panel = self._need_panel()
        try:
            panel.set_speed(speed)
        except ValueError as error:
            raise Refusal("speed", str(error)) from None
        self._wake()

    # Inside

    def _act(self, told: Told) -> Done:
        sequence = self._tell(told, urgent=True)
        return Done(sequence, self._archive.flush(DISK_SECONDS))

    def _tell(self, *told: Told, urgent: bool) -> int:
        """Fold these rows, a clock row before them where one is due, and pass on what comes of it."""
        with self._lock:
            before = self._keeping, self._last
            moment = self._clock.now()
            try:
                kept = [self._fold(t, moment) for t in (*self._clock_row(moment), *told)]
                messages = self._record(kept, urgent=urgent)
            except Exception:
                # What the watch or the record cannot take is not in the journal; the next row is judged afresh.
                self._keeping, self._last = before
                raise
            self._telling.tell(messages)
            sequence = self._last.sequence
        for _, made in kept:
            self._say(made.outcomes)
        self._wake()
        return sequence

    def _fold(self, told: Told, moment: Moment) -> tuple[Row, Kept]:
        row = Row(self._studio.kiln.name, self._last.sequence + 1, moment.boot, moment.monotonic_ms, told)
        self._keeping, kept = fold.keep(self._keeping, row)
        if isinstance(told, Clock):
            offset_ms = moment.utc_ms - moment.monotonic_ms
            self._last = _Last(row.sequence, moment.boot, offset_ms, moment.monotonic_ms, moment.synchronised)
        else:
            self._last = replace(self._last, sequence=row.sequence)
        return row, kept

    def _clock_row(self, moment: Moment) -> tuple[Clock, ...]:
        last = self._last
        stepped_ms = abs(moment.utc_ms - moment.monotonic_ms - last.clock_offset_ms)
        due = (
            moment.boot != last.boot
            or moment.synchronised != last.synchronised
            or stepped_ms > CLOCK_STEP_MS
            or moment.monotonic_ms - last.clock_ms >= CLOCK_EVERY_MS
        )
        return (Clock(moment.utc_ms, moment.synchronised),) if due else ()

    def _record(self, kept: list[tuple[Row, Kept]], *, urgent: bool) -> list[Message]:
        """Hand rows and all that came of them to the archive, whole and in order; it does not wait for the disk."""
        studio = self._studio
        steps, messages = [], []
        for row, made in kept:
            told = tuple(o for o in made.outcomes if isinstance(o, AlarmOutcome | PromptOutcome))
            steps.append(Step(row, told))
            urgent = urgent or any(isinstance(o, AlarmOutcome) for o in told)
            messages += [m for alarm, number in made.telling for m in self._messages(alarm, number)]
        minutes = tuple(made.minute for _, made in kept if made.minute is not None)
        summaries = [made.summary for _, made in kept if made.summary is not None]
        firing = self._keeping.state.firing
        self._archive.put(
            Batch(
                steps=tuple(steps),
                minutes=minutes,
                firings=tuple(Firing(studio.kiln.name, s, studio.plan_toml, studio.kiln_toml) for s in summaries),
                messages=tuple(messages),
                checkpoint=self._checkpoint() if minutes and self._checkpoint_due() else None,
                urgent=urgent,
                firing=firing is not None and not firing.off,
            )
        )
        return messages

    def _messages(self, alarm: AlarmOutcome, number: int) -> list[Message]:
        manner, kiln = self._studio.manner, self._studio.kiln.name
        return [
            Message(
                key=f"{kiln}/{alarm.episode}/{recipient}/{number}",
                recipient=recipient,
                title=f"{kiln}: {words.title(alarm)} ({alarm.episode}-{number})",
                text=words.sentence(alarm, manner),
                urgent=alarm.priority is Priority.HIGH,
                created_utc_ms=alarm.utc_ms,
            )
            for recipient in self._telling.recipients
        ]

    def _say(self, outcomes: tuple[Outcome, ...]) -> None:
        """The machine's log: read by people, and by whatever watches the machine."""
        for outcome in outcomes:
            if isinstance(outcome, PromptOutcome):
                log.info("%s: %s", outcome.tag, words.sentence(outcome, self._studio.manner))
            elif isinstance(outcome, AlarmOutcome):
                level = logging.WARNING if outcome.action is Action.RAISE else logging.INFO
                text = words.sentence(outcome, self._studio.manner)
                log.log(level, "%s %s, %s: %s", outcome.action, outcome.tag, outcome.episode, text)

    def _checkpoint_due(self) -> bool:
        return self._checkpoints and self._keeping.minute % CHECKPOINT_MINUTES == 0

    def _checkpoint(self) -> Checkpoint:
        kiln = self._studio.kiln.name
        return Checkpoint(kiln, self._last.sequence, self._codec.version, self._codec.freeze(self._keeping))

    def _wake(self) -> None:
        self._news += 1
        for wake in self._followers:
            try:
                wake()
            except Exception:
                log.exception("somebody who followed is followed no longer")
                with self._lock:
                    self._followers = [w for w in self._followers if w is not wake]

    def _need_panel(self) -> RehearsalPort:
        if self._rehearsal is None:
            raise Refusal("panel", "only a rehearsal has a panel")
        return self._rehearsal

    def _panel(self) -> PanelView | None:
        if self._rehearsal is None:
            return None
        view = self._rehearsal.view()
        return PanelView(
            speed=view.speed,
            switches=view.switches,
            troubles=self._rehearsal.troubles(),
            trouble=view.trouble,
            keeper=view.keeper,
            shutoff_tripped=view.shutoff_tripped,
            power=view.power,
            lid=view.lid,
            timer_minutes_left=view.timer_minutes_left,
        )


def _kind(mark: Mark) -> str:
    if isinstance(mark.what, AlarmOutcome):
        return "alarm"
    return "prompt" if isinstance(mark.what, PromptOutcome) else "entry"
