"""Asks the interface of a whole daemon thousands of made-up things, and compares each answer with its description.

    .venv/bin/python tests/web/fuzz.py [--data DIR] [--each N] [--seed N]

DIR is a folder of a rehearsal, as `spyhole rehearse --data DIR` leaves it; what is asked is written into it. Without
one a rehearsal is made. The daemon is real and answers on loopback to a token only; the kiln is emulated. Red for any
answer that the description does not allow, for a server error, for a malformed request that was taken, and for an
answer to somebody without a key.
"""

import argparse
import functools
import sys
import time
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory

import httpx
import schemathesis
from schemathesis.cli import schemathesis as command

from spyhole.app.build import Daemon, build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import STATE, Notes, rehearsal_of, studio_of, world_around
from spyhole.app.seeding import Seeding, seed
from spyhole.app.wiring import emulated_wiring
from spyhole.core.access import Role
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import TONIGHT
from spyhole_hardware.emulated.troubles import NONE
from spyhole_web.guard import HEADERS

SPEED = 20.0
NOT_ASKED = ("/api/live",)
"""A stream that never ends: what comes by it is the answer of /api/now."""
NOT_CHECKED = "positive_data_acceptance"
"""A request in the right form may still be refused for its sense: a firing is under way, a person is there already."""


def rehearsed(data: Path) -> Daemon:
    """The daemon of this rehearsal, with its door shut: one keeper has come in."""
    rehearsal = rehearsal_of(TONIGHT, Notes(), start_utc_ms=0, state_file=data / STATE)
    daemon = build(
        studio_of(TONIGHT, Manner(), 5.0), world_around(rehearsal, wiring=emulated_wiring()), data, port=0,
        notifier=Notifier(),
    )  # fmt: skip
    rehearsal.keep_pace(time.monotonic, SPEED)
    daemon.access.enter(daemon.access.first_code() or "", "Ruth", "kiln room", "127.0.0.1")
    daemon.sampler.start()
    return daemon


def only_by_a_token(daemon: Daemon) -> None:
    """Every request carries a token that is good, although some of them take tokens back."""

    @schemathesis.auth(refresh_interval=None)
    class _Token:
        def __init__(self) -> None:
            self.words = ""

        def get(self, case: schemathesis.Case, context: schemathesis.AuthContext) -> str:
            if daemon.access.visitor(None, self.words) is None:
                self.words = daemon.access.token("fuzz", Role.KEEPER).words
            return self.words

        def set(self, case: schemathesis.Case, data: str, context: schemathesis.AuthContext) -> None:
            case.headers["Authorization"] = f"Bearer {data}"


def main() -> int:
    """Red with 1."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--data", type=Path)
    parser.add_argument("--each", type=int, default=60, help="made-up requests of each address")
    parser.add_argument("--phases", default="examples,coverage,fuzzing")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("rest", nargs="*", help="more for schemathesis")
    wish = parser.parse_args()
    with TemporaryDirectory() as folder:
        return fuzz(wish, wish.data or seeded(Path(folder)))


def seeded(folder: Path) -> Path:
    """One firing in the book, and one under way since yesterday evening."""
    state = folder / STATE
    state.parent.mkdir()
    seed(folder, Seeding(datetime.now(UTC) - timedelta(days=1), 1, NONE, Manner(), state), lambda words, hours: None)
    return folder


def fuzz(wish: argparse.Namespace, data: Path) -> int:
    """In this folder."""
    daemon = rehearsed(data)
    only_by_a_token(daemon)

    @schemathesis.check
    def has_the_house_s_headers(
        context: schemathesis.CheckContext, answer: schemathesis.Response, case: schemathesis.Case
    ) -> None:
        assert all(answer.headers.get(name) == [words] for name, words in HEADERS.items())

    @schemathesis.check
    def leaves_the_door_shut(
        context: schemathesis.CheckContext, answer: schemathesis.Response, case: schemathesis.Case
    ) -> None:
        assert not daemon.access.is_open, "the last keeper was taken back"

    @schemathesis.hook
    def after_call(context: schemathesis.HookContext, case: schemathesis.Case, response: schemathesis.Response) -> None:
        if case.operation.path.startswith(("/api/rehearsal/speed", "/api/exercises")):
            daemon.watchkeeper.panel.set_speed(SPEED)  # this machine is small

    description = data / "openapi.json"
    key = {"Authorization": f"Bearer {daemon.access.token('description', Role.GUEST).words}"}
    description.write_text(httpx.get(f"{daemon.address}/openapi.json", headers=key, timeout=60).raise_for_status().text)
    words = [
        "run", str(description), "--url", daemon.address, "--phases", wish.phases, "--max-examples", str(wish.each),
        "--seed", str(wish.seed), "--generation-database", "none", "--suppress-health-check", "all",
        "--exclude-checks", NOT_CHECKED, "--continue-on-failure", "--request-timeout", "30", "--no-color",
        "--warnings", "off", *functools.reduce(lambda so_far, path: [*so_far, "--exclude-path", path], NOT_ASKED, []),
        *wish.rest,
    ]  # fmt: skip
    try:
        command.main(words, standalone_mode=True)
    except SystemExit as left:
        return int(left.code or 0)
    finally:
        daemon.lifecycle.stop()
    return 0


if __name__ == "__main__":
    sys.exit(main())
