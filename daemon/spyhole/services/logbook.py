"""Takes down everything that happens at one kiln, in order: tells it to the watch, keeps it, passes on what follows.

One lock orders the rows: whoever has something to tell takes the next sequence and the time under it, so the journal's
order and its clock agree. Nothing under the lock waits for a disk, a channel or a page; what breaks there is
said as a condition and never stops the sampler.
"""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass, replace

from spyhole.core import words
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.moment import Moment
from spyhole.core.outcome import Action, AlarmOutcome, Outcome, Priority, PromptOutcome
from spyhole.core.ports import ClockPort
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive, Batch, Checkpoint, Firing, Message, Step
from spyhole.services.keeping import Keeping, Kept
from spyhole.services.recovery import Codec, fold_tail, newest_that_fits
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling

log = logging.getLogger(__name__)

CLOCK_EVERY_MS = 600_000
CLOCK_STEP_MS = 2_000
"""The wall clock is written down each ten minutes, and at once when it has stepped by more than this."""


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
        *,
        checkpoints: bool = True,
    ) -> None:
        """checkpoints: False where the record is being filled faster than anybody could stop it."""
        self._studio = studio
        self._clock = clock
        self._archive = archive
        self._telling = telling
        self._codec = codec
        self._checkpoints = checkpoints
        self._lock = threading.Lock()
        self._last = _Last()
        self._followers: list[Callable[[], None]] = []
        self.keeping: Keeping = fold.begin()
        self.news = 0

    def recover(self, progress: Callable[[int], None] = lambda rows: None) -> int:
        """Rebuild the state from the record; returns the rows folded."""
        kiln = self._studio.kiln.name
        keeping, sequence = newest_that_fits(self._archive, kiln, self._codec)
        keeping, last, folded = fold_tail(keeping, self._archive.rows_after(kiln, sequence), progress)
        with self._lock:
            self.keeping = keeping
            self._last = _Last(last or sequence)
        return folded

    def begin(self) -> None:
        """The first rows of this run: what the clock says, and kiln and plan where they are not as before."""
        state = self.keeping.state
        changed = (state.kiln, state.plan) != (self._studio.kiln, self._studio.plan)
        self.tell(*((Settings(self._studio.kiln, self._studio.plan),) if changed else ()), urgent=True)

    def close(self) -> None:
        """A last checkpoint, so that the next start has nothing to fold."""
        with self._lock:
            if self._last.sequence:
                self._archive.put(Batch(checkpoint=self._checkpoint(), urgent=True))

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

        urgent: commit at once. Returns the sequence of the last of them.
        """
        with self._lock:
            before = self.keeping, self._last
            moment = self._clock.now()
            try:
                kept = [self._fold(t, moment) for t in (*self._clock_row(moment), *told)]
                messages = self._record(kept, urgent=urgent)
            except Exception:
                # What the watch or the record cannot take is not in the journal; the next row is judged afresh.
                self.keeping, self._last = before
                raise
            self._telling.tell(messages)
            sequence = self._last.sequence
        for _, made in kept:
            self._say(made.outcomes)
        self.wake()
        return sequence

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
        firing = self.keeping.state.firing
        self._archive.put(
            Batch(
                steps=tuple(steps),
                minutes=minutes,
                firings=tuple(Firing(studio.kiln.name, s, studio.plan_toml, studio.kiln_toml) for s in summaries),
                messages=tuple(messages),
                checkpoint=self._checkpoint() if self._checkpoint_due(kept) else None,
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

    def _checkpoint_due(self, kept: list[tuple[Row, Kept]]) -> bool:
        over = any(made.minute_over for _, made in kept)
        return over and self._checkpoints

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
