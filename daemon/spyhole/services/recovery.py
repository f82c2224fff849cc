"""The state after a start: the newest checkpoint that fits, and the rows after it folded; or every row."""

import logging
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from spyhole.core.journal import Row
from spyhole.services import keeping as fold
from spyhole.services.archive import Archive
from spyhole.services.keeping import Keeping

log = logging.getLogger(__name__)


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


def fold_tail(keeping: Keeping, rows: Iterator[Row], progress: Callable[[int], None]) -> tuple[Keeping, int, int]:
    """The state after these rows, the sequence of the last (0: there was none) and how many there were.

    Their outcomes were committed with them, and are not told again.
    """
    folded = sequence = 0
    for row in rows:
        keeping, _ = fold.keep(keeping, row)
        sequence = row.sequence
        folded += 1
        if folded % 10_000 == 0:
            progress(folded)
    return keeping, sequence, folded
