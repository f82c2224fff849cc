"""The one thread that writes. Nobody waits for it but who asks to (`flush`).

What a failed commit held is put back before whatever was put meanwhile and tried again as a whole. The connection is
kept across a failure: SQLite then writes the same pages again, where a new connection might find them in the log,
unsynced, and believe them written.
"""

import logging
import threading
from collections.abc import Callable
from dataclasses import dataclass

from sqlalchemy import Connection, Engine

from spyhole.services.archive import ConditionTold
from spyhole.store.held import Held
from spyhole.store.transaction import Names, write
from spyhole.store.troubles import DAMAGED, Trouble, begun_anew, thinned, trouble_of

_log = logging.getLogger(__name__)

_RENEWALS = 3
"""New records begun in one run; past it the machine itself is what is damaged."""


@dataclass(frozen=True, slots=True)
class Pace:
    """How long something ordinary may wait for the disk, and how much may be held when the disk fails.

    firing_seconds: the readings that a kill or a power cut may cost, against the wear of the card.
    rows: commit sooner when so many readings wait (a rehearsal in fast time).
    readings_held: about 500 bytes each; beyond, older ones are thinned.
    """

    firing_seconds: float = 10.0
    idle_seconds: float = 60.0
    retry_seconds: float = 5.0
    rows: int = 2000
    readings_held: int = 20_000

    def due(self, now: float, earlier: float | None, *, urgent: bool, firing: bool, last: float | None = None) -> float:
        """When a commit is due, once this has been put beside what was due earlier (None: nothing was).

        last: when the last one was, if not long ago: commits keep their rhythm, so a failing disk is noticed in time.
        """
        if urgent:
            return now
        wait = self.firing_seconds if firing else self.idle_seconds
        due = last + wait if last is not None and now - last < wait else now + wait
        return due if earlier is None else min(earlier, due)


class Writer:
    """Holds what is put and commits it at its pace. Thread-safe.

    seconds: a monotonic clock of the machine, never a rehearsal's: the pace is that of the card.
    """

    def __init__(
        self,
        engine: Engine,
        seconds: Callable[[], float],
        tell: ConditionTold,
        pace: Pace,
        renew: Callable[[], str] | None = None,
    ) -> None:
        """renew: moves the record aside and makes a new one, with no connection of ours open; says what it is called.

        None: what is damaged stays so.
        """
        self._engine = engine
        self._seconds = seconds
        self._tell = tell
        self._pace = pace
        self._wake = threading.Condition()
        self._held = Held()
        self._due: float | None = None
        self._taken: float | None = None
        self._put_count = 0
        self._committed_count = 0
        self._stopping = False
        self._ended = False
        self._thinned = False
        self._trouble: Trouble | None = None
        self._renew = renew
        self._anew = False
        self._renewals = 0
        self._lasting: Trouble | None = None
        self._connection: Connection | None = None
        self._names: Names | None = None
        self._thread = threading.Thread(target=self._run, name="record", daemon=True)
        self._thread.start()

    def put(self, held: Held, *, urgent: bool, firing: bool) -> None:
        """Take this in; never waits for the disk."""
        with self._wake:
            self._held.extend(held)
            self._put_count += 1
            waiting, before = len(self._held.readings), self._due
            many = waiting >= self._pace.rows and self._trouble in (None, self._lasting)
            self._due = self._pace.due(
                self._seconds(), self._due, urgent=urgent or many, firing=firing, last=self._taken
            )
            self._bound()
            if before is None or self._due < before:  # or the thread would wake at each reading, for nothing
                self._wake.notify_all()

    def flush(self, timeout_seconds: float) -> bool:
        """Commit now; True only when all that was put before is committed."""
        with self._wake:
            count = self._put_count
            if self._committed_count < count:
                self._due = self._seconds()
                self._wake.notify_all()
            self._wake.wait_for(lambda: self._committed_count >= count or self._ended, timeout_seconds)
            return self._committed_count >= count

    def begin_anew(self) -> None:
        """The record is damaged: before the next commit, which is now, a new one is begun."""
        with self._wake:
            self._anew = self._renew is not None and self._renewals < _RENEWALS
            self._due = self._seconds()
            self._wake.notify_all()

    def say_lasting(self, trouble: Trouble) -> None:
        """Tell of what stands until the next start, whatever comes and goes beside it."""
        self._lasting = trouble
        self._note(None)

    def stop(self, timeout_seconds: float) -> bool:
        """Commit what is held, then end the thread. True when nothing was left."""
        done = self.flush(timeout_seconds)
        with self._wake:
            self._stopping = True
            self._wake.notify_all()
        self._thread.join(timeout_seconds)
        return done

    def _run(self) -> None:
        while (taken := self._next()) is not None:
            held, count = taken
            try:
                self._commit(held)
            except Exception as problem:  # noqa: BLE001 - whatever it is, the record must go on trying
                trouble = trouble_of(problem)
                if trouble == DAMAGED and self._renew is not None and self._renewals < _RENEWALS:
                    self._put_back(held, 0.0)
                    self.begin_anew()
                else:
                    self._failed(held, trouble)
            else:
                self._succeeded(count)
        if self._connection is not None:
            self._connection.close()
        with self._wake:
            self._ended = True
            self._wake.notify_all()

    def _next(self) -> tuple[Held, int] | None:
        """Wait until a commit is due; None when the thread is to end."""
        with self._wake:
            while not self._stopping:
                wait = None if self._due is None else self._due - self._seconds()
                if wait is not None and wait <= 0:
                    held, self._held, self._due = self._held, Held(), None
                    self._taken = self._seconds()
                    return held, self._put_count
                self._wake.wait(wait)
            return None

    def _begin_anew(self, renew: Callable[[], str]) -> None:
        if self._connection is not None:
            self._connection.close()
        self._connection = self._names = None
        aside = renew()
        self._anew = False
        self._renewals += 1
        self.say_lasting(begun_anew(aside))

    def _commit(self, held: Held) -> None:
        if self._anew and self._renew is not None:
            self._begin_anew(self._renew)
        if self._connection is None:
            self._connection = self._engine.connect()
        try:
            with self._connection.begin():
                if self._names is None:
                    self._names = Names(self._connection)
                write(self._connection, held, self._names)
        except BaseException:
            self._names = None  # it may know ids that were rolled back
            raise

    def _succeeded(self, count: int) -> None:
        with self._wake:
            self._committed_count = count
            self._thinned = False
            self._wake.notify_all()
        self._note(None)

    def _failed(self, held: Held, trouble: Trouble) -> None:
        self._put_back(held, self._pace.retry_seconds)
        self._note(thinned(trouble) if self._thinned else trouble)

    def _put_back(self, held: Held, retry_seconds: float) -> None:
        with self._wake:
            held.extend(self._held)
            self._held = held
            self._bound()
            retry = self._seconds() + retry_seconds
            self._due = retry if self._due is None else min(self._due, retry)

    def _bound(self) -> None:
        while len(self._held.readings) > self._pace.readings_held and self._held.thin():
            self._thinned = True

    def _note(self, trouble: Trouble | None) -> None:
        """Tell of a change, outside the lock: who is told may put. What lasts stands where nothing else does."""
        trouble = trouble or self._lasting
        before, self._trouble = self._trouble, trouble
        try:
            if before is not None and (trouble is None or trouble.code != before.code):
                self._tell(before.code, None)
            if trouble is not None and trouble != before:
                self._tell(trouble.code, trouble.words)
        except Exception:  # noqa: BLE001 - nor may it stop because somebody could not be told
            _log.exception("a condition of the record could not be told")
