"""What holds for every test."""

import threading
import time
from collections.abc import Iterator

import pytest
from hypothesis import settings

# Two cores may be busy with something else, so no example has a deadline; the same examples every time, so that
# a red run can be repeated by anybody.
settings.register_profile("house", deadline=None, derandomize=True, print_blob=True)
settings.load_profile("house")


@pytest.fixture(autouse=True)
def no_thread_left() -> Iterator[None]:
    """A test that leaves a thread running is red: such a thread would go on into the next one's firing."""
    before = set(threading.enumerate())
    yield
    until = time.monotonic() + 120  # a message under way on a busy machine
    while (left := _ours(before)) and time.monotonic() < until:
        left[0].join(0.05)
    assert not left, f"still running after the test: {[thread.name for thread in left]}"


def _ours(before: set[threading.Thread]) -> list[threading.Thread]:
    # anyio and asyncio keep idle workers for a while; they hold nothing of a test's.
    kept = ("AnyIO worker thread", "asyncio_", "waitpid-")
    return [t for t in threading.enumerate() if t not in before and not t.name.startswith(kept)]
