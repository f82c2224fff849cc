"""Takes down everything that happens at one kiln, in order: tells it to the watch, keeps it, passes on what follows.

One lock orders the rows: whoever has something to tell takes the next sequence and the time under it, so the journal's
order and its clock agree. Nothing under the lock waits for a disk, a channel or a page, or sets a condition; what
breaks there is said as a condition and never stops the sampler.

After a start, what is told while the record is still being read waits with its time, and is taken in after the tail.
"""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from spyhole.core import words
from spyhole.core.carry import carried
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.fitted import due
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.journal import Clock, Row, Settings, Told, WatchFault
from spyhole.core.moment import Moment
from spyhole.core.outcome import Action, AlarmOutcome, PromptOutcome
from spyhole.core.ports import ClockPort
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive, ArchiveDamaged, ArchiveTrouble, Batch, Checkpoint, Firing, Message, Step
from spyhole.services.conditions import JOURNALED, READING_AGAIN, UNREAD, Conditions
from spyhole.services.keeping import Keeping, Kept
from spyhole.services.recovery import Abandoned, Codec, Recovery
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling

log = logging.getLogger(__name__)

CLOCK_EVERY_MS = 600_000
CLOCK_STEP_MS = 2_000
"""The wall clock is written down each ten minutes, and at once when it has stepped by more than this."""

RECOVER_SECONDS = 0.5
"""How long a start waits for a record that is read at once, as it is with a checkpoint a minute old."""

DRAWN_MS = 900
SAID_AFTER_ROWS = 10_000
LEAVE_SECONDS = 5.0
STORE_TAG = "watch-store"


@dataclass(frozen=True, slots=True)
class _Last:
    """The last row, and the last that said what the wall clock says."""

    sequence: int = 0
    boot: str = ""
    clock_offset_ms: int = 0
    clock_ms: int = 0
    synchronised: bool = False


class Logbook:
    """news: counts whatever changed what can be seen."""

    def __init__(
        self,
        studio: Studio,
        clock: ClockPort,
        archive: Archive,
        telling: Telling,
        codec: Codec,
        conditions: Conditions,
        *,
        checkpoints: bool = True,
    ) -> None:
        """checkpoints: False where the record is being filled faster than anybody could stop it."""
        self._conditions = conditions
        self._studio = studio
        self._clock = clock
        self._archive = archive
        self._telling = telling
        self._codec = codec
        self._checkpoints = checkpoints
        self._lock = threading.Lock()
        self._last = _Last()
        self._followers: list[Callable[[], None]] = []
        self._began = clock.now()
        self._waiting: list[tuple[Told, Moment, bool]] = []
        self._recovered = threading.Event()
        self._leaving = threading.Event()
        self._recovery: threading.Thread | None = None
        self.keeping: Keeping = fold.begin()
        self._drawn_ms = -DRAWN_MS
        self.news = 0
        self.recovered_rows = 0

    def recover(self, progress: Callable[[int], None] = lambda rows: None) -> int:
        """Rebuild the state from the record, then take in the first rows of this run and what waited meanwhile.

        Returns the rows folded.
        """
        try:
            self._read_again(progress)
        except Abandoned:
            return self.recovered_rows
        self._settle()
        self._conditions.clear(READING_AGAIN)
        self.conditions_changed()
        return self.recovered_rows

    def recover_beside(self, progress: Callable[[int], None] = lambda rows: None) -> None:
        """Do so in a thread of its own; waits a moment for it, because it is nearly always done in one."""
        self._recovery = threading.Thread(target=self.recover, args=(progress,), name="recovery", daemon=True)
        self._recovery.start()
        self._recovered.wait(RECOVER_SECONDS)

    def wait_recovered(self, seconds: float) -> bool:
        """Whether the state is whole, at the latest after so long."""
        return self._recovered.wait(seconds)

    def close(self) -> None:
        """A last checkpoint, so that the next start has nothing to fold."""
        self._leaving.set()
        if self._recovery is not None:
            self._recovery.join(LEAVE_SECONDS)
        with self._lock:
            if self._last.sequence and self._recovered.is_set():
                self._archive.put(Batch(checkpoint=self._checkpoint(), urgent=True))

    def conditions_changed(self) -> None:
        """Write down which faults of the watch itself begin and end, so that they become alarms; and there is news.

        A row of it waits in memory like any other while the disk is what is broken.
        """
        try:
            self._tell(self._faults_to_note, urgent=False)
        except Exception:
            log.exception("a fault of the watch could not be written down")
        self.wake()

    def _read_again(self, progress: Callable[[int], None]) -> None:
        kiln = self._studio.kiln.name

        def noted(rows: int) -> None:
            if self._leaving.is_set():
                raise Abandoned
            if rows >= SAID_AFTER_ROWS:
                self._conditions.set(READING_AGAIN)
            progress(rows)

        found = Recovery(self._archive, kiln, self._codec)
        try:
            found.run(noted)
        except ArchiveDamaged:
            log.exception("the record can be read as far as row %d", found.last)
            self._archive.begin_anew()
        except ArchiveTrouble as trouble:
            self._conditions.set(UNREAD, str(trouble))
        except Abandoned:
            raise
        except Exception as error:
            # A fault of the program must leave nobody without a watch: on from what was understood.
            log.exception("the record was understood as far as row %d", found.last)
            self._conditions.set(UNREAD, repr(error))
        finally:
            self.recovered_rows = found.rows
        if found.why:
            self._conditions.set(UNREAD, found.why)
        with self._lock:
            self.keeping = found.keeping
            # What could not be read is there all the same, and its places are taken.
            self._last = _Last(max(found.last, self._archive.last_put(kiln)))

    def _settle(self) -> None:
        """The first rows of this run: what the clock says, kiln and plan where they changed. Then what waited."""
        state = self.keeping.state
        changed = (state.kiln, state.filed) != (self._studio.kiln, self._studio.plan)
        settings = (Settings(self._studio.kiln, self._studio.plan),) if changed else ()
        with self._lock:
            kept = self._take(settings, self._began, urgent=True)
        self._say(kept)
        while True:
            with self._lock:
                if not self._waiting:
                    self._recovered.set()
                    return
                told, moment, urgent = self._waiting.pop(0)
                try:
                    kept = self._take((told,), moment, urgent=urgent)
                except Exception:
                    log.exception("a row that waited was lost")
                    continue
            self._say(kept)

    def follow(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Have `wake` called at all news; returns the way to stop."""
        with self._lock:
            self._followers = [*self._followers, wake]

        def stop() -> None:
            with self._lock:
                self._followers = [w for w in self._followers if w is not wake]

        return stop

    def tell(self, *told: Told, urgent: bool) -> int:
        """Fold these rows, a clock row before them where one is due, and pass on what comes of it.

        urgent: commit at once. Returns the sequence of the last of them, 0 while the record is being read again.
        """
        sequence = self._tell(lambda: told, urgent=urgent)
        self.wake()
        return sequence

    def _tell(self, what: Callable[[], tuple[Told, ...]], *, urgent: bool) -> int:
        """what: called under the lock."""
        with self._lock:
            moment = self._clock.now()
            told = what()
            if not self._recovered.is_set():
                self._waiting += [(t, moment, urgent) for t in told]
                return 0
            kept = self._take(told, moment, urgent=urgent) if told else []
            sequence = self._last.sequence
        self._say(kept)
        return sequence

    def _faults_to_note(self) -> tuple[Told, ...]:
        """Under the lock. Before the state is whole nothing: it is looked at again then."""
        if not self._recovered.is_set():
            return ()
        stand = {view.code for view in self._conditions.views()} & JOURNALED
        noted = self.keeping.state.faults
        return tuple(WatchFault(tag, tag in stand) for tag in sorted(stand ^ noted))

    def _take(self, told: tuple[Told, ...], moment: Moment, *, urgent: bool) -> list[tuple[Row, Kept]]:
        """Under the lock."""
        before = self.keeping, self._last
        try:
            first = *self._clock_row(moment), *due(self.keeping.state), *self._carried(told, moment)
            kept = [self._fold(t, moment) for t in (*first, *told)]
            messages = self._telling.outbox.draw(self.keeping, self._studio, moment)
            self._drawn_ms = moment.monotonic_ms
            self._record(kept, messages, urgent=urgent)
        except Exception:
            # What the watch or the record cannot take is not in the journal; the next row is judged afresh.
            self.keeping, self._last = before
            raise
        self._telling.outbox.posted(messages)
        self._telling.tell(messages)
        return kept

    def _carried(self, told: tuple[Told, ...], moment: Moment) -> tuple[Told, ...]:
        """Before a start: what a fold that begins here has to know, and what the clock says to it."""
        if not any(isinstance(one, Entry) and one.kind is EntryKind.START for one in told):
            return ()
        before = carried(self.keeping.state)
        return () if before is None else (Clock(moment.utc_ms, moment.synchronised), before)

    def escalate(self) -> bool:
        """Called about once a second: tell what has become due since the last reading. Always True."""
        with self._lock:
            if not self._recovered.is_set():
                return True
            moment = self._clock.now()
            if 0 <= moment.monotonic_ms - self._drawn_ms < DRAWN_MS:
                return True  # it was asked with a reading just now
            messages = self._telling.outbox.draw(self.keeping, self._studio, moment)
            if messages:
                self._archive.put(Batch(messages=tuple(messages), urgent=True))
                self._telling.outbox.posted(messages)
                self._telling.tell(messages)
        return True

    def _fold(self, told: Told, moment: Moment) -> tuple[Row, Kept]:
        row = Row(self._studio.kiln.name, self._last.sequence + 1, moment.boot, moment.monotonic_ms, told)
        self.keeping, kept = fold.keep(self.keeping, row)
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

    def _record(self, kept: list[tuple[Row, Kept]], messages: list[Message], *, urgent: bool) -> None:
        """Hand rows and all that came of them to the archive, whole and in order; it does not wait for the disk."""
        studio = self._studio
        steps = []
        for row, made in kept:
            told = tuple(o for o in made.outcomes if isinstance(o, AlarmOutcome | PromptOutcome))
            steps.append(Step(row, told))
            urgent = urgent or any(isinstance(o, AlarmOutcome) for o in told)
        minutes = tuple(made.minute for _, made in kept if made.minute is not None)
        firing = self.keeping.state.firing
        # The line of a firing goes with that firing's own plan, which is at hand for the last one alone.
        summaries = [m.summary for _, m in kept if m.summary is not None and firing and m.summary.id == firing.id]
        plan_toml = plan_to_toml(firing.plan, firing.kiln) if summaries and firing else studio.plan_toml
        # In a record that was just begun anew nothing else tells of the firing, nor of the people.
        anew = any(row.told == WatchFault(STORE_TAG, True) for row, _ in kept)
        self._archive.put(
            Batch(
                steps=tuple(steps),
                minutes=minutes,
                firings=tuple(Firing(studio.kiln.name, s, plan_toml, studio.kiln_toml) for s in summaries),
                messages=tuple(messages),
                checkpoint=self._checkpoint() if anew or self._checkpoint_due(kept) else None,
                people=self._telling.kept() if anew else None,
                urgent=urgent or anew or bool(messages),
                firing=firing is not None and not firing.off,
            )
        )

    def _say(self, kept: list[tuple[Row, Kept]]) -> None:
        """The machine's log: read by people, and by whatever watches the machine. Not under the lock."""
        for outcome in (outcome for _, made in kept for outcome in made.outcomes):
            if isinstance(outcome, PromptOutcome):
                log.info("%s: %s", outcome.tag, words.sentence(outcome, self._studio.manner))
            elif isinstance(outcome, AlarmOutcome):
                level = logging.WARNING if outcome.action is Action.RAISE else logging.INFO
                text = words.sentence(outcome, self._studio.manner)
                log.log(level, "%s %s, %s: %s", outcome.action, outcome.tag, outcome.episode, text)

    def _checkpoint_due(self, kept: list[tuple[Row, Kept]]) -> bool:
        return self._checkpoints and any(made.minute_over for _, made in kept)

    def _checkpoint(self) -> Checkpoint:
        kiln = self._studio.kiln.name
        return Checkpoint(kiln, self._last.sequence, self._codec.version, self._codec.freeze(self.keeping))

    def wake(self) -> None:
        """There is news."""
        self.news += 1
        for wake in self._followers:
            try:
                wake()
            except Exception:
                log.exception("somebody who followed is followed no longer")
                with self._lock:
                    self._followers = [w for w in self._followers if w is not wake]
