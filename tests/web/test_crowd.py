"""A crowd at the page, faults 14 and 16: a thousand who look, and more who never finish asking.

That the watch goes on beside them and everybody hears is shown here, whatever else the machine is busy with. How many
seconds that takes, and that no reading comes late, is measured in the booted appliance, which has its machine for
itself (`make appliance`); fault 15 is in test_interface.
"""

import asyncio
import contextlib
import resource
from collections.abc import Coroutine, Iterator
from concurrent.futures import ThreadPoolExecutor
from typing import Any, TypeVar

import pytest

PAGES = 1000
HALF_OPEN = 1100
BYTES_OF_LOG = 1 << 20
T = TypeVar("T")


@pytest.fixture
def slow_daemon(descriptors: None, another: Any) -> Any:
    """At a real kiln's pace, or nearly: a reading each second and a half."""
    return another("--speed", "3")


@pytest.fixture
def descriptors() -> Iterator[None]:
    """As many as a unit has: for the crowd here, and for the daemon, which inherits the limit."""
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    enough = 4096
    assert hard == resource.RLIM_INFINITY or hard >= enough, "this machine allows too few open files for a crowd"
    resource.setrlimit(resource.RLIMIT_NOFILE, (max(soft, enough), hard))
    yield
    resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


def _beside(crowd: Coroutine[Any, Any, T]) -> T:
    """In a thread of its own: the browser of other tests has its loop in this one."""
    with ThreadPoolExecutor(1) as another:
        return another.submit(asyncio.run, crowd).result()


async def _asks(daemon: Any, request: str) -> tuple[asyncio.StreamReader, asyncio.StreamWriter]:
    reader, writer = await asyncio.open_connection("127.0.0.1", daemon.port, limit=1 << 20)
    writer.write(request.format(host=f"localhost:{daemon.port}").encode())
    await writer.drain()
    return reader, writer


async def _hears(reader: asyncio.StreamReader, words: bytes) -> bool:
    """Whether this page comes to hear these words."""
    while line := await reader.readline():
        if line.startswith(b"data: ") and words in line:
            return True
    return False


def _goes_on(daemon: Any) -> None:
    """Readings are taken, and somebody who asks gets an answer."""
    before = daemon.now()["sequence"]
    daemon.until(lambda: daemon.now()["sequence"] > before + 3)
    assert daemon.get("/healthz").status_code == 200


def test_fault_14_a_thousand_live_pages_all_hear_and_readings_go_on(slow_daemon: Any) -> None:
    async def crowd() -> int:
        pages = []
        try:
            for _ in range(PAGES):
                pages.append(await _asks(slow_daemon, "GET /api/live HTTP/1.1\r\nhost: {host}\r\n\r\n"))
            heard = [asyncio.create_task(_hears(reader, b"Heard by everybody")) for reader, _ in pages]
            note = {"kind": "note", "value": "Heard by everybody"}
            assert (await asyncio.to_thread(slow_daemon.post, "/api/entries", note)).status_code == 200
            await asyncio.to_thread(_goes_on, slow_daemon)
            return sum(await asyncio.wait_for(asyncio.gather(*heard), 600))
        finally:
            for _, writer in pages:
                writer.close()

    assert _beside(crowd()) == PAGES


def test_fault_16_sockets_that_never_finish_asking_hold_nobody_up_and_fill_no_log(slow_daemon: Any) -> None:
    log = slow_daemon.data.parent / f"{slow_daemon.port}.log"
    before = log.stat().st_size

    async def half_open() -> None:
        sockets = []
        try:
            for _ in range(HALF_OPEN):
                with contextlib.suppress(ConnectionError):
                    sockets.append(await _asks(slow_daemon, "GET /healthz HTTP/1.1\r\nhost: {host}\r\n"))
            await asyncio.to_thread(_goes_on, slow_daemon)
            note = {"kind": "note", "value": "Written all the same"}
            assert (await asyncio.to_thread(slow_daemon.post, "/api/entries", note)).status_code == 200
        finally:
            for _, writer in sockets:
                writer.close()

    _beside(half_open())
    assert log.stat().st_size - before < BYTES_OF_LOG
    assert slow_daemon.entry("Written all the same")
