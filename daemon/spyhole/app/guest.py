"""The page's server, a guest of the daemon: a thread of its own with its own limits, which may die alone.

It listens on loopback unless the settings say otherwise.
"""

import asyncio
import contextlib
import logging
import resource
import socket
import threading
from collections.abc import Callable

import uvicorn

from spyhole.core.refusal import Refusal
from spyhole.services.conditions import PAGE, Conditions

log = logging.getLogger(__name__)

GRACEFUL_SECONDS = 2
CONNECTIONS_AT_MOST = 2400
"""Past this the page says 503. A thousand open pages, and as many sockets that never finish asking, are fewer."""

DESCRIPTORS_KEPT = 200
"""For the record, the channels and the bus, whatever the page is asked."""


class Guest:
    """Serves the page. bound: from `bind`."""

    def __init__(
        self,
        page: Callable[..., object],
        bound: socket.socket,
        conditions: Conditions,
        end_streams: Callable[[], None],
    ) -> None:
        self._page = page
        self._end_streams = end_streams
        self._conditions = conditions
        self._stopping = False
        self._socket = bound
        self._listen, self.port = bound.getsockname()
        self._server: uvicorn.Server | None = None
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Serve from now on."""
        self._server = _Server(
            uvicorn.Config(
                self._page,
                log_config=None,
                access_log=False,
                lifespan="on",
                backlog=128,
                limit_concurrency=connections_at_most(),
                timeout_keep_alive=15,
                timeout_graceful_shutdown=GRACEFUL_SECONDS,
                server_header=False,
                ws="none",
            )
        )
        self._thread = threading.Thread(target=self._run, args=(self._server, self._socket), name="page", daemon=True)
        self._thread.start()

    def look_after(self) -> bool:
        """Called about once a second from outside: a page that has died is said and started again. Always True."""
        server, thread = self._server, self._thread
        if self._stopping or server is None or thread is None:
            return True
        if thread.is_alive():
            if server.started:
                self._conditions.clear(PAGE)
            return True
        self._conditions.set(PAGE)
        with contextlib.suppress(Refusal):
            self._socket = bind(self._listen, self.port)
            self.start()
        return True

    def stop(self) -> None:
        """Stop within a few seconds: open streams are cut after the graceful ones."""
        self._stopping = True
        if self._server is not None:
            self._server.should_exit = True
            self._end_streams()
        if self._thread is not None:
            self._thread.join(GRACEFUL_SECONDS + 1)
            if self._thread.is_alive() and self._server is not None:
                self._server.force_exit = True
                self._thread.join(1)
        self._socket.close()

    @staticmethod
    def _run(server: uvicorn.Server, bound: socket.socket) -> None:
        try:
            server.run(sockets=[bound])
        except BaseException:
            # uvicorn leaves by SystemExit too; the page's end is nobody else's.
            log.exception("the page has stopped")


def connections_at_most() -> int:
    """As many as there are descriptors for: the unit raises their number, a terminal mostly does not."""
    with contextlib.suppress(OSError):
        allowed, _ = resource.getrlimit(resource.RLIMIT_NOFILE)
        if allowed != resource.RLIM_INFINITY:
            return max(50, min(CONNECTIONS_AT_MOST, allowed - DESCRIPTORS_KEPT))
    return CONNECTIONS_AT_MOST


class _Server(uvicorn.Server):
    """Looks for its end once a second, not ten times: a watch lasts for days, and mostly nobody looks at the page."""

    async def main_loop(self) -> None:
        counter = 0
        while not await self.on_tick(counter):
            counter += 10  # so that its date header is renewed each time
            await asyncio.sleep(1.0)


def bind(listen: str, port: int) -> socket.socket:
    """Where the page will be; Refusal for what is in use, or not of this machine."""
    bound = socket.socket(socket.AF_INET, socket.SOCK_STREAM)
    bound.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
    try:
        bound.bind((listen, port))
    except OSError as error:
        bound.close()
        raise Refusal(
            f"{listen} port {port}",
            f"the page cannot be served there ({error.strerror})",
            "name a free one with --port, or mend `listen`",
        ) from None
    return bound
