"""Holds the watch of one kiln: what the sampler tells, what a person may see and do. The logbook takes it down."""

from collections.abc import Callable
from dataclasses import replace

from spyhole.core import words
from spyhole.core.concluded import TurnSaid
from spyhole.core.drawn import Drawn
from spyhole.core.entry import EntryKind
from spyhole.core.forms.entries_csv import check_entry
from spyhole.core.forms.jpeg import check_jpeg, photo_name
from spyhole.core.journal import Acknowledgement, InReach, Rearm, Reset, Told, Undo
from spyhole.core.outcome import Action, AlarmOutcome, PromptOutcome
from spyhole.core.ports import ClockPort, RehearsalPort
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.core.state import State
from spyhole.services import aside
from spyhole.services import curve as drawing
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive, Batch, Mark, Photo
from spyhole.services.conditions import Conditions
from spyhole.services.courier import DISK_SECONDS
from spyhole.services.desk import Curve, CurveMark, Done, FiringSummary
from spyhole.services.keeping import Keeping
from spyhole.services.logbook import Logbook
from spyhole.services.oversight import Oversight
from spyhole.services.panel import Panel
from spyhole.services.portray import portray
from spyhole.services.recovery import Codec
from spyhole.services.room import Room
from spyhole.services.snapshot import Snapshot
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.turn_answers import turn_answer

RECOVERED_SECONDS = 10.0
"""How long an act waits after a start until the state is whole."""


class Watchkeeper:
    """Satisfies `services.desk.Desk`. room: what is wired in the room, once there is any."""

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
        self._conditions = conditions
        self._logbook = Logbook(studio, clock, archive, telling, codec, conditions, checkpoints=checkpoints)
        self.panel = Panel(rehearsal, lambda: clock.now().monotonic_ms, self._logbook.wake)
        self._tick_ms = max(1, round(studio.tick_seconds * 1000))
        self._drawn: tuple[int, int, Snapshot] | None = None
        self.room: Room | None = None
        self._oversight = Oversight(conditions)
        conditions.changed = self._logbook.conditions_changed

    @property
    def keeping(self) -> Keeping:
        """The watch's state and what is kept beside it, as of the last row."""
        return self._logbook.keeping

    @property
    def state(self) -> State:
        """The watch's state, as of the last row. Never waits."""
        return self._logbook.keeping.state

    @property
    def recovered_rows(self) -> int:
        """Rows of the record folded since the start."""
        return self._logbook.recovered_rows

    # What the daemon does with it

    def recover(self, progress: Callable[[int], None] = lambda rows: None) -> int:
        """Rebuild the state from the record, and tell the first rows of this run; returns the rows folded."""
        return self._logbook.recover(progress)

    def recover_beside(self, progress: Callable[[int], None] = lambda rows: None) -> None:
        """Do so while sampling goes on already: readings wait, and are taken in after the record's own rows."""
        self._logbook.recover_beside(progress)

    def wait_recovered(self, seconds: float) -> bool:
        """Whether the state is whole, at the latest after so long."""
        return self._logbook.wait_recovered(seconds)

    def take(self, reading: Reading) -> None:
        """A reading from the sampler."""
        self._oversight.look(reading, self._clock.now())
        self._logbook.tell(reading, urgent=False)

    def take_drawn(self, drawn: Drawn) -> None:
        """What each ring draws, from the ammeter."""
        self._logbook.tell(drawn, urgent=False)

    def escalate(self) -> bool:
        """Called about once a second: tell what has become due since the last reading. Always True."""
        return self._logbook.escalate()

    def close(self) -> None:
        """A last checkpoint, so that the next start has nothing to fold."""
        self._logbook.close()

    # Desk

    def now(self) -> Snapshot:
        """The latest snapshot; drawn when somebody looks, and once for everybody who looks at the same tick."""
        news, drawn = self._logbook.news, self._drawn
        moment = self._clock.now()
        if drawn is not None and drawn[0] == news and moment.monotonic_ms - drawn[1] in range(self._tick_ms):
            return drawn[2]
        panel = self.panel.view()
        snapshot = portray(
            self.keeping.state,
            moment,
            speed=panel.speed if panel is not None else 1.0,
            tick_seconds=self._studio.tick_seconds,
            emulated=self._studio.emulated,
            manner=self._studio.manner,
            conditions=self._conditions.views(),
            panel=panel,
        )
        if self.room is not None:
            snapshot = replace(snapshot, room=self.room.view())
        self._drawn = news, moment.monotonic_ms, snapshot
        return snapshot

    def follow(self, wake: Callable[[], None]) -> Callable[[], None]:
        """Have `wake` called at each new snapshot; returns the way to stop."""
        return self._logbook.follow(wake)

    def curve(self, firing: int | None, points: int) -> Curve | None:
        """The curve of a firing (None: the one under way or the last), at most about `points` instants."""
        kiln = self._studio.kiln.name
        if firing is None:
            summary = self.keeping.summary
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
        drawn = drawing.draw(firing, self._studio.kiln, self._archive.course(kiln, firing, points), marks)
        texts = kept.kiln_toml, kept.plan_toml
        return replace(
            drawn,
            expected=drawing.band(*texts, kept.summary.started_utc_ms),
            cristobalite=drawing.has_cristobalite(*texts),
        )

    def firing_count(self) -> int:
        """How many firings are in the kiln book."""
        return self._archive.firing_count(self._studio.kiln.name)

    def firings(self, newest: int | None = None, before: int | None = None) -> list[FiringSummary]:
        """The kiln book, newest first: so many (None: all) of those begun before the firing of this id (None: any)."""
        now = fold.line_of_the_book(self.keeping)
        kept = self._archive.firings(self._studio.kiln.name, newest, before)
        return [now if now is not None and now.id == line.id else line for line in kept]

    def acknowledge(self, episode: str, who: str) -> Done:
        """Somebody has seen this episode."""
        standing = [alarm.episode for alarm in self._known().alarms]
        if episode not in standing:
            raise Refusal("episode", f"no alarm is called {episode!r}", f"there are {', '.join(standing) or 'none'}")
        return self._act(Acknowledgement(episode, who))

    def reset(self, episode: str, who: str) -> Done:
        """Put a latched episode back to normal: only once it is over and acknowledged."""
        standing = {alarm.episode: alarm for alarm in self._known().alarms}
        alarm = standing.get(episode)
        if alarm is None or alarm.state != "latched" or not alarm.acknowledged:
            allowed = "it has to be over and acknowledged first"
            raise Refusal("episode", f"{episode!r} is no alarm that waits for a reset", allowed)
        return self._act(Reset(episode, who))

    def enter(self, kind: str, subject: str, value: str, who: str, minutes_ago: float = 0.0) -> Done:
        """Write an entry, about now or so many minutes back."""
        entry = check_entry(kind, subject, value, who, self._studio.kiln, self._studio.plan)
        now_utc_ms = self._known().now_utc_ms
        firing = self.keeping.state.firing
        if entry.kind is EntryKind.PHOTO and self.photo(entry.value) is None:
            raise Refusal("value", "there is no photograph of this name", "send it first")
        if entry.kind is EntryKind.START and firing is not None and not firing.off:
            raise Refusal(
                "kind", "a firing is under way", "log every switch off, or the shut-off tripped, to end it first"
            )
        if minutes_ago > 0.0:
            entry = replace(entry, happened_utc_ms=now_utc_ms - round(minutes_ago * 60_000))
        return self._act(entry)

    def photograph(self, jpeg: bytes, who: str) -> Done:
        """Keep a photograph of the cones, with an entry that shows it."""
        check_jpeg(jpeg)
        entry = check_entry(EntryKind.PHOTO, "", photo_name(jpeg), who, self._studio.kiln, self._studio.plan)
        self._known()
        if not self._archive.flush(DISK_SECONDS):  # what waits for the disk waits in memory, and must stay small
            raise Refusal("photo", "the record cannot be written just now", "keep it on the phone and try again later")
        self._archive.put(Batch(photos=(Photo(entry.value, jpeg),), urgent=True))
        return self._act(entry)

    def photo(self, name: str) -> bytes | None:
        """The JPEG of this name, None when there is none."""
        return self._archive.photo(name)

    def undo(self, sequence: int, who: str) -> Done:
        """Take an entry back; both stay in the record."""
        there = [entry.sequence for entry in self._known().entries if entry.sequence is not None and not entry.undone]
        if sequence not in there:
            raise Refusal("sequence", f"no entry that can be taken back has the number {sequence}")
        return self._act(Undo(sequence, who))

    def shelve(self, tag: str, ring: str | None, minutes: float, reason: str, who: str) -> Done:
        """Put an alarm aside for so many minutes: at most 60, a high one 15."""
        self._known()
        return self._act(aside.shelving(self.keeping.state, tag, ring, minutes, reason, who))

    def unshelve(self, tag: str, ring: str | None, who: str) -> Done:
        """Take it back before its time: it is judged at once."""
        self._known()
        return self._act(aside.unshelving(self.keeping.state, tag, ring, who))

    def take_out_of_service(self, ring: str, reason: str, who: str) -> Done:
        """The probe of a ring raises nothing and decides nothing until it is put back."""
        self._known()
        return self._act(aside.out_of_service(self.keeping.state, ring, reason, who))

    def put_back(self, ring: str, who: str) -> Done:
        """A probe is in service again: what it says is judged at once."""
        self._known()
        return self._act(aside.put_back(self.keeping.state, ring, who))

    def take_watch(self, who: str, note: str) -> Done:
        """Somebody holds the watch from now on, with what was said at the hand-over; "" for nobody."""
        self._known()
        return self._act(aside.watch_taken(self.keeping.state, who, note))

    def in_reach(self, who: str) -> Done:
        """Somebody has answered 'are you in reach?'; "" is whoever holds the watch."""
        self._known()
        return self._act(aside.in_reach(self.keeping.state, who))

    def answer_turn(self, question: int, said: TurnSaid, minutes_ago: float, who: str) -> Done:
        """Somebody says whether the turn was made that is asked about; what they say is written down with it."""
        self._known()
        return self._act(*turn_answer(self.keeping.state, question, said, minutes_ago, who))

    def rearm(self, who: str) -> Done:
        """Somebody lets the cut-out heartbeat run again; refused while what stopped it still holds."""
        self._known()
        why = "no cut-out is wired here" if self.room is None else self.room.why_not_armed()
        if self.room is None or why:
            raise Refusal("cut-out", f"it cannot be armed: {why}")
        done = self._act(Rearm(who))
        self.room.arm()
        return done

    def answer_all(self, who: str) -> Done:
        """Somebody at the kiln has seen every alarm that nobody had, and is in reach."""
        self._known()
        open_now = [a.episode for a in self.state.alarms.alarms if not a.acknowledged and a.overlay is None]
        acknowledged = [Acknowledgement(episode, who) for episode in dict.fromkeys(open_now)]
        return self._act(*acknowledged, InReach(who))

    def write_down(self, *told: Told) -> Done:
        """Rows that were checked already, all of them or none."""
        self._known()
        return self._act(*told)

    def stir(self) -> None:
        """Something in the room is another."""
        self._logbook.wake()

    # Inside

    def _known(self) -> Snapshot:
        """What an act is judged by: after a start the record has to be read first. Every act asks for this."""
        if not self.wait_recovered(RECOVERED_SECONDS):
            raise Refusal("record", "spyhole has just started and still reads its record", "try again in some seconds")
        return self.now()

    def _act(self, *told: Told) -> Done:
        sequence = self._logbook.tell(*told, urgent=True)
        return Done(sequence, self._archive.flush(DISK_SECONDS))


def _kind(mark: Mark) -> str:
    if isinstance(mark.what, AlarmOutcome):
        return "alarm"
    return "prompt" if isinstance(mark.what, PromptOutcome) else "entry"
