"""The live stream: every open page hears of each new snapshot, the latest only, a few times a second at most.

A page that does not read, or that is gone, costs one small mailbox: nothing is queued for it. The desk wakes us from
its own thread and never waits; the snapshot is put into words (JSON) once, whoever reads it.
"""

import asyncio
import threading
from collections.abc import AsyncIterator, Callable

from fastapi.responses import StreamingResponse
from pydantic import TypeAdapter

from spyhole.services.desk import Desk
from spyhole.services.snapshot import Snapshot
from spyhole_web.visitor import still_welcome

SHORTEST_SECONDS = 0.25
PING_SECONDS = 10.0
_snapshot = TypeAdapter(Snapshot)


class Live:
    """All open streams of one page. `open` belongs to the server's loop; `end` may be called from any thread."""

    def __init__(self, desk: Desk) -> None:
        self._desk = desk
        self._mailboxes: set[asyncio.Event] = set()
        self._loop: asyncio.AbstractEventLoop | None = None
        self._unfollow: Callable[[], None] | None = None
        self._lock = threading.Lock()
        self._told = False  # a wake is already on its way to the loop
        self._ended = False
        self._heard_at = 0.0
        self._encoded: tuple[Snapshot, bytes] | None = None

    def open(self) -> None:
        """Begin to follow the desk, on the loop that serves."""
        self._loop = asyncio.get_running_loop()
        self._heard_at = self._loop.time()
        self._unfollow = self._desk.follow(self._wake)

    def end(self) -> None:
        """End every stream and follow no longer."""
        with self._lock:
            unfollow, self._unfollow = self._unfollow, None
            self._ended = True
        if unfollow is not None:
            unfollow()
        self._on_loop(self._ring)

    @property
    def silent_seconds(self) -> float:
        """How long the desk has made no snapshot, on the clock of this machine."""
        return self._loop.time() - self._heard_at if self._loop else 0.0

    def response(self) -> StreamingResponse:
        """One more stream, for as long as whoever asks is welcome."""
        return StreamingResponse(self._stream(still_welcome()), media_type="text/event-stream")

    async def _stream(self, welcome: Callable[[], bool]) -> AsyncIterator[bytes]:
        news = asyncio.Event()
        news.set()
        self._mailboxes.add(news)
        try:
            yield b"retry: 2000\n\n"
            while not self._ended and welcome():
                try:
                    await asyncio.wait_for(news.wait(), PING_SECONDS)
                except TimeoutError:
                    yield b": still here\n\n"
                    continue
                news.clear()
                yield self._event()
                await asyncio.sleep(SHORTEST_SECONDS)
        finally:
            self._mailboxes.discard(news)

    def _event(self) -> bytes:
        snapshot = self._desk.now()
        if self._encoded is None or self._encoded[0] is not snapshot:
            data = _snapshot.dump_json(snapshot)
            self._encoded = (snapshot, b"id: %d\nevent: now\ndata: %s\n\n" % (snapshot.sequence, data))
        return self._encoded[1]

    def _wake(self) -> None:
        """From the desk's thread. Must not block. Where nobody listens the loop may sleep on."""
        if self._loop is not None:
            self._heard_at = self._loop.time()
        if not self._mailboxes:
            return
        with self._lock:
            if self._told or self._ended:
                return
            self._told = True
        self._on_loop(self._heard)

    def _heard(self) -> None:
        assert self._loop is not None
        with self._lock:
            self._told = False
        self._ring()

    def _ring(self) -> None:
        for news in self._mailboxes:
            news.set()

    def _on_loop(self, act: Callable[[], None]) -> None:
        if self._loop is None or self._loop.is_closed():
            return
        try:
            self._loop.call_soon_threadsafe(act)
        except RuntimeError:  # closed in between: nobody is left to tell
            return
