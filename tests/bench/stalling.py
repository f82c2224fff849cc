"""A channel hangs while the kiln is watched at one reading a second: how unevenly readings come then, in milliseconds.

The service takes the connection and says nothing, so the attempt lasts until its bound, and is made again.
"""

import json
import logging
import socket
import sys
import tempfile
import threading
import time
from itertools import pairwise
from pathlib import Path

from spyhole.app.build import build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.reading import Reading
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import TONIGHT

READINGS = 60


def main() -> None:
    logging.disable(logging.CRITICAL)
    hangs = socket.create_server(("127.0.0.1", 0))
    callers: list[socket.socket] = []
    called, enough = threading.Event(), threading.Event()

    def listen() -> None:
        while True:
            callers.append(hangs.accept()[0])
            called.set()

    threading.Thread(target=listen, daemon=True).start()
    notes = Notes()
    rehearsal = rehearsal_of(TONIGHT, notes, start_utc_ms=1_951_155_600_000, trouble="night-switch-high")
    channel = AppriseChannel(f"json://127.0.0.1:{hangs.getsockname()[1]}/", "apprise.plugins.custom_json:NotifyJSON")
    with tempfile.TemporaryDirectory() as folder:
        daemon = build(
            studio_of(TONIGHT, Manner(), 1.0),
            world_around(rehearsal, (("studio", channel),)),
            Path(folder),
            port=0,
            notifier=Notifier(""),
        )
        notes.read = daemon.watchkeeper.enter
        taken: list[float] = []

        def take(reading: Reading) -> None:
            if called.is_set():
                taken.append(time.monotonic())
                if len(taken) == 1:
                    rehearsal.keep_pace(time.monotonic, 1.0)
                elif len(taken) > READINGS:
                    enough.set()
            daemon.watchkeeper.take(reading)

        daemon.sampler._take = take
        daemon.sampler.start()
        enough.wait(240)
        # The first of them was still in fast time; each of the others has a second of its own.
        apart = [after - before for before, after in pairwise(taken[1:])]
        print(json.dumps(max(abs(seconds - 1.0) for seconds in apart) * 1000))
        daemon.lifecycle.stop()
    sys.exit(0)


if __name__ == "__main__":
    main()
