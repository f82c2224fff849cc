"""What stands outside: a receiver of messages and heartbeats, and crowds of clients, all on the wire to the box."""

import asyncio
import json
import threading
import time
from collections.abc import AsyncIterator
from contextlib import asynccontextmanager, suppress
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer


class WayOut:
    """How the box reaches package registries: a proxy that opens what it is asked for by name."""

    def __init__(self, host: str, port: int = 3128) -> None:
        started = threading.Event()
        threading.Thread(target=lambda: asyncio.run(self._serve(host, port, started)), daemon=True).start()
        started.wait(10)

    async def _serve(self, host: str, port: int, started: threading.Event) -> None:
        server = await asyncio.start_server(self._lead, host, port)
        started.set()
        await server.serve_forever()

    async def _lead(self, reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        try:
            head = await reader.readuntil(b"\r\n\r\n")
            how, where, _ = head.split(b" ", 2)
            target = where if how == b"CONNECT" else where.split(b"/")[2]
            name, _, number = target.decode().partition(":")
            far_reader, far_writer = await asyncio.open_connection(name, int(number or 80))
        except (OSError, ValueError, IndexError, asyncio.IncompleteReadError, asyncio.LimitOverrunError):
            writer.close()
            return
        if how == b"CONNECT":
            writer.write(b"HTTP/1.1 200 OK\r\n\r\n")
        else:
            far_writer.write(head)
        await asyncio.gather(_pour(reader, far_writer), _pour(far_reader, writer))


async def _pour(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
    with suppress(OSError):
        while piece := await reader.read(1 << 16):
            writer.write(piece)
            await writer.drain()
    writer.close()


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
