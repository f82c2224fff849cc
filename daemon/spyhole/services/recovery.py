"""The state after a start: the newest checkpoint that fits, and the rows after it folded.

Where none fits, as after an upgrade, the fold begins at the last start, whose `Carried` row says what was known before
it; and of a kiln that is cold since then only what people and the watch itself told, and the last hours of readings.
"""

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass, replace

from spyhole.core.entry import EntryKind
from spyhole.core.journal import Row
from spyhole.core.outcome import AlarmOutcome
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive
from spyhole.services.keeping import Keeping

log = logging.getLogger(__name__)

PROGRESS_ROWS = 1_000
COLD_ROWS = 7_200
"""So many of the last rows are folded whatever they are: two hours at one reading a second."""


@dataclass(frozen=True, slots=True)
class Codec:
    """How a state becomes bytes and back. version: changes with the form of the state."""

    version: int
    freeze: Callable[[Keeping], bytes]
    thaw: Callable[[bytes], Keeping]


class Abandoned(Exception):
    """The daemon leaves before its record is read."""


class Recovery:
    """keeping: the state as far as the record is read. last: the sequence of its last row. rows: how many were folded.

    left_out: of those, how many the watch could not take; why: what the first of them said, "" for none.
    """

    def __init__(self, archive: Archive, kiln: str, codec: Codec) -> None:
        self._archive, self._kiln, self._codec = archive, kiln, codec
        self.keeping: Keeping = fold.begin()
        self.last = 0
        self.rows = 0
        self.left_out = 0
        self.why = ""

    def run(self, progress: Callable[[int], None]) -> None:
        """Read it all. ArchiveTrouble where it ends early; the state is as far as it was read.

        Outcomes were committed with their rows, and are not told again. progress: told how many rows, now and then;
        what it raises ends the fold.
        """
        if not self._thawed():
            self.last = max(0, self._archive.carried(self._kiln) - 2)  # a clock row goes before it
            newest = self._archive.last_sequence(self._kiln)
            starts = (mark.sequence for mark in self._archive.entries_of(self._kiln, EntryKind.START))
            lit = max((start for start in starts if start <= newest), default=0)
            self._fold(self._until_cold(lit, newest), progress)
            if self._cold(lit) and newest - self.last > COLD_ROWS:
                self._pass_over(newest - COLD_ROWS, progress)
        self._fold(self._archive.rows_after(self._kiln, self.last), progress)

    def _thawed(self) -> bool:
        """Whether there was a checkpoint of this form that can be read; the newest is taken."""
        for checkpoint in self._archive.checkpoints(self._kiln):
            if checkpoint.version != self._codec.version:
                continue
            try:
                self.keeping, self.last = self._codec.thaw(checkpoint.blob), checkpoint.sequence
            except ValueError:
                log.warning("the checkpoint after row %d cannot be read; an older one is taken", checkpoint.sequence)
            else:
                return True
        return False

    def _cold(self, lit: int) -> bool:
        firing = self.keeping.state.firing
        return lit <= self.last and (firing is None or firing.ended)

    def _until_cold(self, lit: int, newest: int) -> Iterator[Row]:
        if self._cold(lit):
            return
        for row in self._archive.rows_after(self._kiln, self.last):
            yield row
            if self._cold(lit) and newest - self.last > COLD_ROWS:
                return

    def _pass_over(self, until: int, progress: Callable[[int], None]) -> None:
        """Up to this row without the readings: of a cold kiln nothing hangs on them any more."""
        first = self.last + 1
        self._fold(self._archive.told_between(self._kiln, first, until), progress)
        state, self.last = self.keeping.state, until
        outcomes = self._archive.outcomes_between(self._kiln, first, until)
        said = (outcome.episode for _, outcome in outcomes if isinstance(outcome, AlarmOutcome))
        # No number of an episode comes twice: whoever was told of the first would not be told of the second.
        episodes = max((int(episode[1:]) for episode in said), default=0)
        alarms = replace(state.alarms, episodes=max(state.alarms.episodes, episodes))
        self.keeping = replace(self.keeping, state=replace(state, alarms=alarms))

    def _fold(self, rows: Iterator[Row], progress: Callable[[int], None]) -> None:
        waiting: list[Row] = []
        try:
            for row in rows:
                if fold.joins(self.keeping, row):
                    waiting.append(row)
                else:
                    self._join(waiting)
                    waiting = []
                    self._take(row)
                self.last = row.sequence
                self.rows += 1
                if self.rows % PROGRESS_ROWS == 0:
                    progress(self.rows)
        finally:
            self._join(waiting)

    def _join(self, rows: list[Row]) -> None:
        if not rows:
            return
        try:
            self.keeping = fold.join(self.keeping, rows)
        except Exception:
            log.exception("the rows up to %d could not be taken together", rows[-1].sequence)
            for row in rows:
                self._take(row)

    def _take(self, row: Row) -> None:
        try:
            self.keeping, _ = fold.keep(self.keeping, row)
        except Exception as error:
            # A fault of the program at an old row must leave nobody without a watch: it goes on at the next one.
            if not self.why:
                log.exception("row %d could not be understood; the watch goes on after it", row.sequence)
            self.left_out, self.why = self.left_out + 1, self.why or f"row {row.sequence}: {error!r}"
