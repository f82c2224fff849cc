"""One daemon from its first reading to its last: look after it, stop it. Stopping is bounded and idempotent."""

import logging
import signal
import threading
from collections.abc import Callable, Iterator
from contextlib import ExitStack, contextmanager
from types import FrameType

log = logging.getLogger(__name__)

LOOK_SECONDS = 1.0
EXIT_STUCK = 75
"""The bus has not answered for so long that the process must start afresh (systemd does that)."""


class Lifecycle:
    """What `build` made, in the order it was born; leaves in the reverse order.

    looks: called about once a second; one that returns False ends the daemon with `EXIT_STUCK`.
    """

    def __init__(self, teardown: ExitStack, looks: tuple[Callable[[], bool], ...]) -> None:
        self._teardown = teardown
        self._looks = looks
        self._end = threading.Event()

    def run(self) -> int:
        """Look after the daemon until `end`; returns the exit code. Everything has been let go of then."""
        code = 0
        try:
            while code == 0 and not self._end.wait(LOOK_SECONDS):
                for look in self._looks:
                    if not self._safely(look):
                        log.critical("the amplifiers have not answered for too long; the daemon ends to start afresh")
                        code = EXIT_STUCK
        finally:
            self.stop()
        return code

    def end(self) -> None:
        """Ask `run` to return, from any thread or signal handler."""
        self._end.set()

    def stop(self) -> None:
        """Let go of everything, last born first. May be called again."""
        self._end.set()
        self._teardown.close()

    @staticmethod
    def _safely(look: Callable[[], bool]) -> bool:
        try:
            return look()
        except Exception:
            log.exception("looking after the daemon failed once")
            return True


def on_leaving(teardown: ExitStack, name: str, leave: Callable[[], object]) -> None:
    """Have `leave` called when the stack unwinds; one that fails is logged by its name and stops no other."""

    def left() -> None:
        log.debug("leaving: %s", name)
        try:
            leave()
        except Exception:
            log.exception("%s did not stop cleanly", name)

    teardown.callback(left)


@contextmanager
def signals(end: Callable[[], None]) -> Iterator[None]:
    """SIGTERM and SIGINT call `end` once; a second one takes the process down as it stands."""

    def received(number: int, _: FrameType | None) -> None:
        signal.signal(number, signal.SIG_DFL)
        end()

    before = {number: signal.signal(number, received) for number in (signal.SIGTERM, signal.SIGINT)}
    try:
        yield
    finally:
        for number, handler in before.items():
            signal.signal(number, handler)
