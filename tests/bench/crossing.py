"""One alarm in a daemon of its own: seconds from the end of the conversion that raised it to a real web service.

A process each, because the first message is the one that matters and it pays for everything that is loaded late.
"""

import json
import logging
import sys
import tempfile
import threading
import time
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

from spyhole.app.build import build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.reading import Reading
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import TONIGHT

arrived: list[float] = []
told = threading.Event()


class Handler(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        arrived.append(time.monotonic())
        self.send_response(200)
        self.end_headers()
        told.set()

    def log_message(self, *_: object) -> None:
        """Quiet."""


def main() -> None:
    logging.disable(logging.CRITICAL)
    server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    notes = Notes()
    rehearsal = rehearsal_of(TONIGHT, notes, start_utc_ms=1_951_155_600_000, trouble="night-switch-high")
    channel = AppriseChannel(f"json://127.0.0.1:{server.server_port}/", "apprise.plugins.custom_json:NotifyJSON")
    with tempfile.TemporaryDirectory() as folder:
        daemon = build(
            studio_of(TONIGHT, Manner(), 10.0),
            world_around(rehearsal, (("studio", channel),)),
            Path(folder),
            port=0,
            notifier=Notifier(""),
        )
        notes.read = daemon.watchkeeper.enter
        crossed: list[float] = []

        def take(reading: Reading) -> None:
            converted = time.monotonic()
            daemon.watchkeeper.take(reading)
            if not crossed and daemon.watchkeeper.now().alarms:
                crossed.append(converted)
                told.wait(10)  # until its next tick a daemon at speed 1 has nothing to do either

        daemon.sampler._take = take
        daemon.sampler.start()
        told.wait(30)
        print(json.dumps(arrived[0] - crossed[0]))
        daemon.lifecycle.stop()
    sys.exit(0)


if __name__ == "__main__":
    main()
