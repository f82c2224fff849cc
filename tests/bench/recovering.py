"""A start after 48 hours of firing at 1 Hz with three probes and no checkpoint that fits: one line of JSON.

sampling: seconds from opening the record until the first reading was taken while the record is still being read again.
alarms: until the state is whole and judges again. The process is a fresh one; its imports are not counted.
"""

import json
import sys
import tempfile
import time
from pathlib import Path

from spyhole.app.codec import codec
from spyhole.app.memory import keep_small
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.words import Manner
from spyhole.services.beat import Beat
from spyhole.services.conditions import Conditions
from spyhole.services.sampler import Sampler
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import SqlArchive, open_archive
from spyhole_hardware.emulated.puffin import TONIGHT

LIT_UTC_MS = 1_951_155_600_000
HOURS = 48
FLUSH_ROWS = 1000


def filled(record: SqlArchive) -> None:
    """Tonight's firing and the hours after it, every second of it, by the emulated kiln; no checkpoint."""
    notes = Notes()
    kiln = rehearsal_of(TONIGHT, notes, start_utc_ms=LIT_UTC_MS)
    world = world_around(kiln)
    conditions = Conditions(lambda: kiln.now().utc_ms)
    keeper = Watchkeeper(studio_of(TONIGHT, Manner(), 1.0), kiln, record, Telling(()), conditions, codec(),
                         checkpoints=False)  # fmt: skip
    keeper.recover()
    notes.read = keeper.enter
    for second in range(HOURS * 3600):
        kiln.wait_until(second * 1000)
        keeper.take(world.probes.read())
        if second % FLUSH_ROWS == 0:
            record.flush(30)
    world.probes.close()
    record.flush(30)


def main() -> None:
    keep_small()
    with tempfile.TemporaryDirectory(dir=sys.argv[1]) as folder:
        record = open_archive(Path(folder), seconds=time.monotonic, tell=lambda code, words: None)
        filled(record)
        record.close(30)

        kiln = rehearsal_of(TONIGHT, Notes(), start_utc_ms=LIT_UTC_MS + HOURS * 3_600_000)
        world = world_around(kiln)
        began = time.monotonic()
        conditions = Conditions(lambda: kiln.now().utc_ms)
        record = open_archive(Path(folder), seconds=time.monotonic, tell=conditions.told)
        keeper = Watchkeeper(studio_of(TONIGHT, Manner(), 1.0), kiln, record, Telling(()), conditions, codec())
        keeper.recover_beside()
        sampler = Sampler(world.probes, kiln, keeper.take, every_ms=1000, probe_count=3,
                          beat=Beat(time.monotonic, lambda: None), conditions=conditions)  # fmt: skip
        sampler.tick()
        sampling = time.monotonic() - began
        assert keeper.wait_recovered(120)
        alarms = time.monotonic() - began
        print(json.dumps({"sampling": sampling, "alarms": alarms, "rows": keeper.recovered_rows}))
        keeper.close()
        record.close(30)
        world.probes.close()


if __name__ == "__main__":
    main()
