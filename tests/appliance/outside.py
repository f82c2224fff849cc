"""What stands outside: a receiver of messages and heartbeats, and crowds of clients, all on the wire to the box."""

import asyncio
import json
import threading
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class Receiver:
    """Takes messages at /hook and beats at /beat, and keeps when."""

    def __init__(self, host: str, port: int) -> None:
        self.messages: list[tuple[float, str]] = []
        self.beats: list[float] = []
        kept = self

        class Door(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                said = self.rfile.read(int(self.headers.get("Content-Length", 0)))
                kept.messages.append((time.time(), str(json.loads(said).get("title", ""))))
                self._done()

            def do_GET(self) -> None:
                kept.beats.append(time.monotonic())
                self._done()

            def _done(self) -> None:
                self.send_response(200)
                self.send_header("Content-Length", "0")
                self.end_headers()

            def log_message(self, *words: object) -> None:
                pass

        self.server = ThreadingHTTPServer((host, port), Door)
        threading.Thread(target=self.server.serve_forever, daemon=True).start()

    def heard(self, words: str, since: float) -> float | None:
        """When a message came since then whose title has these words."""
        return next((at for at, title in self.messages if at >= since and words in title.lower()), None)


@asynccontextmanager
async def crowd(
    host: str, count: int, request: bytes
) -> AsyncIterator[list[tuple[asyncio.StreamReader, asyncio.StreamWriter]]]:
    """So many connections that have said this."""
    made = []
    try:
        for _ in range(count):
            reader, writer = await asyncio.wait_for(asyncio.open_connection(host, 8420), 20)
            writer.write(request)
            made.append((reader, writer))
        yield made
    finally:
        for _, writer in made:
            writer.transport.abort()


def live(token: str) -> bytes:
    """What a page says to hear the news."""
    head = f"GET /api/live HTTP/1.1\r\nHost: localhost\r\nAuthorization: Bearer {token}\r\n\r\n"
    return head.encode()


async def delays(host: str, token: str, count: int, seconds: float) -> tuple[int, list[float]]:
    """How many of so many pages hear the news, and how long after the first of them each heard each of it."""
    first: dict[bytes, float] = {}
    late: list[float] = []
    hear: set[int] = set()

    async def listen(number: int, reader: asyncio.StreamReader) -> None:
        while True:
            line = await reader.readline()
            if not line:
                return
            if line.startswith(b"id: "):
                now = time.monotonic()
                late.append(now - first.setdefault(line, now))
                hear.add(number)

    async with crowd(host, count, live(token)) as made:
        await asyncio.sleep(5)  # the crowd has come in
        first.clear()
        listeners = [asyncio.create_task(listen(number, reader)) for number, (reader, _) in enumerate(made)]
        await asyncio.sleep(2)
        late.clear()
        await asyncio.sleep(seconds)
        for task in listeners:
            task.cancel()
        await asyncio.gather(*listeners, return_exceptions=True)
    return len(hear), late
