"""Crowds at the page of the installed service: who looks, who never reads, who never finishes asking (faults 14-16)."""

import asyncio
import os
import time

from asking import Page, afresh
from box import Box, Outcomes, memory_kib, until
from outside import Receiver, crowd, delays, live

LISTEN_SECONDS = 45


def thousand_pages(box: Box, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    """They all hear the news, no reading is late, and somebody is told of an alarm at once."""
    afresh(box, page)
    pid = box.pid()

    async def both() -> tuple[int, list[float], float]:
        told = asyncio.create_task(asyncio.to_thread(_told_after, box, page, outside))
        hear, late = await delays(box.there, page.token, 1000, LISTEN_SECONDS)
        return hear, late, await told

    os.sched_setscheduler(0, os.SCHED_RR, os.sched_param(1))  # the crowd stands outside the box, and on no Pi
    hear, late, told = asyncio.run(both())
    os.sched_setscheduler(0, os.SCHED_OTHER, os.sched_param(0))
    p99 = sorted(late)[int(len(late) * 0.99)] if late else 99.0
    moved = "watch-late" in page.conditions()
    seen = (
        f"{hear} of 1000 hear; 99 of 100 within {p99:.2f} s of the first; readings late: {moved}; an alarm is told "
        f"{told:.1f} s after it stands"
    )
    well = hear == 1000 and p99 < 1 and not moved and told < 2 and box.pid() == pid
    outcomes.say("14  1000 live pages", well, seen)


def _told_after(box: Box, page: Page, outside: Receiver) -> float:
    """How long after it stands on the page somebody is told of a probe that opens now; 99 for never."""
    time.sleep(10)  # the crowd has come in
    since = time.time()
    box.trouble("one-open")
    until(60, lambda: any(str(alarm["tag"]).startswith("probe") for alarm in page.alarms()), 0.1)
    stands = time.time()
    until(30, lambda: outside.heard("probe", since) is not None, 0.05)
    box.trouble("")
    heard = outside.heard("probe", since)
    return 99.0 if heard is None else max(heard - stands, 0.0)


def never_reading(box: Box, page: Page, outcomes: Outcomes) -> None:
    """They are let go of, or cost nothing."""
    pid = box.pid()

    async def unread() -> int:
        before = memory_kib(pid)
        async with crowd(box.there, 20, live(page.token)):
            await asyncio.sleep(60)
            return memory_kib(pid) - before

    grown = asyncio.run(unread())
    outcomes.say("15  20 clients that never read", grown < 2048, f"{grown} KiB more after a minute")


def half_open(box: Box, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    """The log stays small, and somebody is told of an alarm all the same."""
    afresh(box, page)  # what follows from a trouble that somebody is called for already is not told again
    pid = box.pid()

    async def stand() -> tuple[bool, int, bool]:
        async with crowd(box.there, 1100, b"GET /healthz HTTP/1.1\r\nHost: loc"):
            await asyncio.sleep(30)
            since = time.time()
            status = await asyncio.to_thread(box.inside, "systemctl show -p NRestarts,ActiveState spyhole")
            box.trouble("one-open")
            told = await asyncio.to_thread(until, 90, lambda: outside.heard("probe", since) is not None)
            return "ActiveState=active" in status[1], _log_bytes(box), told

    lives, logged, told = asyncio.run(stand())
    box.trouble("")
    late = "watch-late" in page.conditions()
    well = lives and logged < 1 << 20 and told and not late and box.answers(30) and box.pid() == pid
    seen = f"{logged} bytes of log a minute; readings late: {late}; an alarm told: {told}"
    outcomes.say("16  1100 half-open sockets", well, seen)


def _log_bytes(box: Box) -> int:
    return len(box.inside("journalctl -u spyhole -o cat --no-pager --since=-1min")[1])
