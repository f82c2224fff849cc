"""The state after a start: the newest checkpoint that fits, and the rows after it folded; or every row."""

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from spyhole.core.journal import Row
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive
from spyhole.services.keeping import Keeping

log = logging.getLogger(__name__)

PROGRESS_ROWS = 1_000


@dataclass(frozen=True, slots=True)
class Codec:
    """How a state becomes bytes and back. version: changes with the form of the state."""

    version: int
    freeze: Callable[[Keeping], bytes]
    thaw: Callable[[bytes], Keeping]


def newest_that_fits(archive: Archive, kiln: str, codec: Codec) -> tuple[Keeping, int]:
    """The state of the newest checkpoint of this form that can be read, and its sequence; else the very beginning."""
    for checkpoint in archive.checkpoints(kiln):
        if checkpoint.version != codec.version:
            continue
        try:
            return codec.thaw(checkpoint.blob), checkpoint.sequence
        except ValueError:
            log.warning("the checkpoint after row %d cannot be read; an older one is taken", checkpoint.sequence)
    return fold.begin(), 0


class Abandoned(Exception):
    """The daemon leaves before its record is read."""


def fold_tail(keeping: Keeping, rows: Iterator[Row], progress: Callable[[int], None]) -> Iterator[tuple[Keeping, int]]:
    """The state after each of these rows, and that row's sequence.

    Their outcomes were committed with them, and are not told again. progress: told how many, now and then; what it
    raises ends the fold.
    """
    for folded, row in enumerate(rows, 1):
        keeping, _ = fold.keep(keeping, row)
        if folded % PROGRESS_ROWS == 0:
            progress(folded)
        yield keeping, row.sequence
