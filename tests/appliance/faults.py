"""Faults that the installed service has to bear, by their numbers in what was asked for.

The box has a wire of its own to this machine, and its record lies on a small card of its own.
"""

import asyncio
import contextlib
import os
import random
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

from box import PLACE, Box, Outcomes, Page, until
from outside import Receiver, crowd, delays, live

SEED = 20261125
CARD_MIB = 24
"""So small that the log of the record is not made long beforehand: a full card is felt at the next commit."""

KILLS = int(os.environ.get("KILLS", "20"))
SOAK_HOURS = 72
TOO_HOT = {"kiln-limit", "ceiling-passed", "guard-cone", "runaway", "shutoff-overdue"}
HERE = Path(__file__).parent


class Card:
    """A small card of its own for the record."""

    def __init__(self, box: Box) -> None:
        self.path = PLACE / f"card-{box.suite}"
        self._image = PLACE / f"card-{box.suite}.img"
        self.bound = f"--bind={self.path}:/var/lib/spyhole"

    def make(self) -> None:
        """A new one."""
        self.take_away()
        self.path.mkdir(exist_ok=True)
        with self._image.open("wb") as file:
            file.truncate(CARD_MIB * 1024 * 1024)
        _run("mkfs.ext4", "-q", "-m", "0", str(self._image))
        self.mount()

    def mount(self) -> None:
        """Looked over and put in, as at each start of a machine."""
        subprocess.run(["fsck.ext4", "-p", self._image], check=False, stdout=subprocess.DEVNULL)
        _run("mount", "-o", "loop", str(self._image), str(self.path))

    def take_away(self) -> None:
        """No more of it."""
        subprocess.run(["umount", "-q", self.path], check=False, stderr=subprocess.DEVNULL)


def _run(*command: str) -> None:
    subprocess.run(command, check=True, stdout=subprocess.DEVNULL)


def prove(box: Box, outcomes: Outcomes) -> None:
    """One line each."""
    if not (box.root / "opt/spyhole/current").exists() or not box.answers():
        box.inside("sh spyhole/systemd/install")
    box.inside("systemctl disable --now spyhole@raku")
    card = Card(box)
    _prepare(box)
    box.power_cut()
    card.make()
    box.boot(card.bound)
    outside = Receiver(box.here, 8490)
    try:
        box.answers(60)
        page = Page(box.token(), box.there)
        # A firing is on: commits come each ten seconds, and the kiln is watched for all it is worth.
        page.ask("/api/entries", {"kind": "start", "value": "06", "who": "Ruth"})
        _bus(box, page, outcomes)
        _crowds(box, page, outside, outcomes)
        _card(box, card, page, outside, outcomes)
        _frozen(box, outcomes)
        _killed(box, outcomes)
        _soak(box, outcomes)
        _unheard(box, card, outside, outcomes)
    finally:
        outside.server.shutdown()
        box.power_cut()
        card.take_away()
        box.boot()


def _prepare(box: Box) -> None:
    """Settings, the wires' troubles, and the card's."""
    box.settings(f'tell = "json://{box.here}:8490/hook"')
    with (box.root / "etc/spyhole/spyhole.toml").open("a") as file:
        file.write(f'[heartbeat]\nurl = "http://{box.here}:8490/beat"\n')
    (packages,) = (box.root / "opt/spyhole/versions" / box.version() / "lib").glob("python3*/site-packages")
    shutil.copy(HERE / "bus_faults.py", packages / "spyhole_bus_faults.py")
    (packages / "spyhole_bus_faults.pth").write_text("import spyhole_bus_faults\n")
    _run(
        "cc", "-shared", "-fPIC", "-O1", "-o", str(box.root / "srv/disk_errors.so"), str(HERE / "disk_errors.c"), "-ldl"
    )
    drop_in = box.root / "etc/systemd/system/spyhole.service.d"
    drop_in.mkdir(exist_ok=True)
    (drop_in / "proof.conf").write_text("[Service]\nEnvironment=LD_PRELOAD=/srv/disk_errors.so\n")
    for name in ("bus", "eio"):
        (box.root / "srv" / name).unlink(missing_ok=True)


def _killed(box: Box, outcomes: Outcomes) -> None:
    chance, slowest = random.Random(SEED), 0.0
    for _ in range(KILLS):
        time.sleep(chance.uniform(0.5, 4))
        box.kill()
        began = time.monotonic()
        if not (until(15, lambda: box.pid() != 0, 0.2) and box.answers(20)):
            outcomes.say(f"1   {KILLS} kills", False, "it did not come back")
            return
        slowest = max(slowest, time.monotonic() - began)
    record = box.record()
    box.answers(30)
    well = record["sound"] == "ok" and record["gap"] == 0
    outcomes.say(f"1   {KILLS} kills (seed {SEED})", well, f"slowest {slowest:.1f} s to a page with readings; {record}")


def _card(box: Box, card: Card, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    filler, broken = card.path / "filler", box.root / "srv/eio"

    def fill() -> None:
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as file:
            while True:
                file.write(bytes(1 << 12))

    ways = [
        ("4   the card full", "The disk is full", fill, filler.unlink),
        ("5   EIO on fsync (preloaded)", "The disk gives errors", broken.touch, broken.unlink),
    ]
    for (words, said_words, begin, end), trouble in zip(ways, ("ones", "forgets"), strict=True):
        _answer_all(page)
        process, since = box.pid(), time.time()
        begin()
        after = _said(box, f"watch-disk: {said_words}", since, 90)
        told = _told_of(box, trouble, outside)
        mended = time.time()
        end()
        # Over, or only little room again, on a card as small as this.
        over = min(_said(box, f"watch-disk: {how}", mended, 60) for how in ("over", "The disk has little"))
        well = told and after < 20 and over < 60 and box.pid() == process
        seen = f"said after {after:.0f} s, an alarm told: {told}, over {over:.0f} s after it was mended, no restart"
        outcomes.say(words, well, seen)
    record = box.record()
    box.answers(30)
    outcomes.say("4,5 the record afterwards", record["sound"] == "ok" and record["gap"] == 0, str(record))
    _read_only(box, card, page, outside, outcomes)


def _told_of(box: Box, trouble: str, outside: Receiver) -> bool:
    """Whether somebody is told of a trouble of the amplifiers that begins now."""
    wish, since = box.root / "srv/bus", time.time()
    wish.write_text(trouble)
    told = until(90, lambda: outside.heard("amplifier", since) is not None or outside.heard("probe", since) is not None)
    wish.unlink()
    return told


def _read_only(box: Box, card: Card, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    """As a worn card goes: it takes no more writes, and its file system is read-only until the next start."""
    _answer_all(page)
    loop = subprocess.run(["findmnt", "-no", "SOURCE", card.path], stdout=subprocess.PIPE, text=True, check=True)
    device, since = loop.stdout.strip(), time.time()
    _run("blockdev", "--setro", device)
    after = _said(box, "watch-disk: The disk", since, 90)
    told = _told_of(box, "open", outside)
    box.power_cut()
    card.take_away()
    card.mount()
    box.boot(card.bound)
    back = box.answers(60)
    record = box.record()
    box.answers(30)
    well = told and after < 40 and back and record["sound"] == "ok" and record["gap"] == 0
    seen = f"said after {after:.0f} s, an alarm told: {told}; a new start with a card that writes: {record}"
    outcomes.say("5   the card read-only", well, seen)


def _said(box: Box, words: str, since: float, seconds: float) -> float:
    """How long after an instant of the clock the service said this; 999 for never."""
    command = f"journalctl -u spyhole -o short-unix --no-pager --since=@{since:.0f}"
    found: list[float] = []

    def there() -> bool:
        lines = [line for line in box.inside(command)[1].splitlines() if words in line]
        found.extend(float(line.split()[0]) for line in lines if float(line.split()[0]) >= since)
        return bool(found)

    return max(found[0] - since, 0.0) if until(seconds, there, 1.0) else 999.0


def _answer_all(page: Page) -> None:
    """Everything acknowledged, so that the next trouble is told anew."""
    alarms = page.now().get("alarms", [])
    assert isinstance(alarms, list)
    for alarm in alarms:
        with contextlib.suppress(OSError):
            page.ask(f"/api/alarms/{alarm['episode']}/acknowledgement", {"who": "Ruth"})


def _rings(page: Page) -> list[tuple[object, object]]:
    rings = page.now().get("rings", [])
    assert isinstance(rings, list)
    return [(ring["celsius"], ring["fault"]) for ring in rings if ring["has_probe"]]


def _bus(box: Box, page: Page, outcomes: Outcomes) -> None:
    """What the wires say is not believed from the next reading on: the last number of a ring ages, and is then gone.

    Shorted leads show the amplifier's own temperature and reversed ones a falling one: the chip has no fault for
    either, and the watch tells by the curve, in minutes (probe-out, probe-reversed). Here: no wild number of them.
    """
    wish = box.root / "srv/bus"
    seen, well = [], until(60, lambda: bool(_numbers(page)))
    for name in ("zeros", "ones", "random", "converts-not", "open", "shorted", "reversed", "forgets"):
        until(60, lambda: len(_numbers(page)) == len(_rings(page)) > 0)
        began = int(str(page.now()["now_utc_ms"]))
        wish.write_text(name)
        wild = False
        for _ in range(12):
            time.sleep(1)
            wild |= any(number < -100 or number > 300 for number in _numbers(page))
        rings = page.now()["rings"]
        assert isinstance(rings, list)
        last = max(ring["seen_utc_ms"] - began for ring in rings) / 1000
        hot = page.conditions() & TOO_HOT
        wish.unlink()
        quiet = name in ("shorted", "reversed", "forgets")
        good = not wild and not hot and (quiet or last <= 5)
        well &= good
        seen.append(f"{name} {'no wild number' if quiet else f'last believed at {last:.0f} s'}{'' if good else ' NOT'}")
    outcomes.say("12  bus and chip: garbage is never believed, no alarm of heat", well, ", ".join(seen))


def _numbers(page: Page) -> list[float]:
    return [celsius for celsius, fault in _rings(page) if fault is None and isinstance(celsius, int | float)]


def _frozen(box: Box, outcomes: Outcomes) -> None:
    old = box.pid()
    wish = box.root / "srv/bus"
    wish.write_text("hang")
    began = time.monotonic()
    well = until(95, lambda: box.pid() not in (0, old), 0.5)
    seconds = time.monotonic() - began
    wish.unlink()
    well &= box.answers(60)
    outcomes.say(
        "19  the sampler's thread hangs in a transfer", well and seconds <= 90, f"started again after {seconds:.0f} s"
    )


def _memory_kib(pid: int) -> int:
    words = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return int(words.partition("Pss:")[2].split()[0])


def _log_bytes(box: Box) -> int:
    return len(box.inside("journalctl -u spyhole -o cat --no-pager --since=-1min")[1])


def _crowds(box: Box, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    pid = box.pid()
    hear, late = asyncio.run(delays(box.there, page.token, 1000, 30))
    p99 = sorted(late)[int(len(late) * 0.99)] if late else 99.0
    moved = "watch-late" in page.conditions()
    seen = f"{hear} of 1000 hear; 99 of 100 within {p99:.2f} s of the first; readings late: {moved}"
    outcomes.say("14  1000 live pages", hear == 1000 and p99 < 1 and not moved and box.pid() == pid, seen)

    async def unread() -> int:
        before = _memory_kib(pid)
        async with crowd(box.there, 20, live(page.token)):
            await asyncio.sleep(60)
            return _memory_kib(pid) - before

    grown = asyncio.run(unread())
    outcomes.say("15  20 clients that never read", grown < 2048, f"{grown} KiB more after a minute")

    _answer_all(page)  # what follows from a trouble that somebody is called for already is not told again

    async def half_open() -> tuple[bool, int, bool]:
        async with crowd(box.there, 1100, b"GET /healthz HTTP/1.1\r\nHost: loc"):
            await asyncio.sleep(30)
            since = time.time()
            status = await asyncio.to_thread(box.inside, "systemctl show -p NRestarts,ActiveState spyhole")
            with contextlib.suppress(OSError):
                await asyncio.to_thread(page.ask, "/api/rehearsal/trouble", {"name": "probe-open"})
            told = await asyncio.to_thread(until, 90, lambda: outside.heard("", since) is not None)
            return "ActiveState=active" in status[1], _log_bytes(box), told

    lives, logged, told = asyncio.run(half_open())
    with contextlib.suppress(OSError):
        page.ask("/api/rehearsal/trouble", {"name": "none"})
    well = lives and logged < 1 << 20 and told and box.answers(30) and box.pid() == pid
    outcomes.say("16  1100 half-open sockets", well, f"{logged} bytes of log a minute; an alarm told: {told}")


def _unheard(box: Box, card: Card, outside: Receiver, outcomes: Outcomes) -> None:
    def silent_then_back(stop: Callable[[], object], back: Callable[[], object], seconds: int) -> tuple[bool, float]:
        count = len(outside.beats)
        until(70, lambda: len(outside.beats) > count)
        stop()
        time.sleep(2)
        heard = len(outside.beats)
        time.sleep(seconds)
        silent = len(outside.beats) == heard
        back()
        began = time.monotonic()
        until(100, lambda: len(outside.beats) > heard)
        return silent and len(outside.beats) > heard, time.monotonic() - began

    # Whoever listens outside calls three beats an absence; what has no wire, no process or no power sends none.
    ways = {
        "the network": (lambda: box.wire("down"), lambda: box.wire("up"), 180),
        "the daemon": (lambda: box.inside("systemctl stop spyhole"), lambda: box.inside("systemctl start spyhole"), 75),
        "the Pi": (box.power_cut, lambda: box.boot(card.bound), 75),
    }
    for name, (stop, back, seconds) in ways.items():
        well, after = silent_then_back(stop, back, seconds)
        seen = f"no beat in {seconds} s, the next {after:.0f} s after it was back"
        outcomes.say(f"20  {name} off: silence, then heard again", well, seen)


def _soak(box: Box, outcomes: Outcomes) -> None:
    """The installed program on an emulated kiln in fast time, three days: what it holds after one and after three."""
    box.inside("systemctl stop spyhole; rm -rf /srv/soak; install -d -o spyhole /srv/soak")
    at_work = box.begin(
        "exec runuser -u spyhole -- /opt/spyhole/current/bin/spyhole rehearse --data /srv/soak --speed 3600 "
        "--sample-seconds 30 --earlier 0 --fresh"
    )
    asks = (
        "import json, urllib.request as u; print(json.load(u.urlopen('http://127.0.0.1:8420/api/now'))['now_utc_ms'])"
    )

    def hour() -> float:
        code, said = box.inside(f'python3 -c "{asks}"')
        return int(said) / 3_600_000 if code == 0 else 0.0

    until(60, lambda: hour() > 0)
    begun, held, now = hour(), {}, 0.0
    pid = next((_pid(path) for path in Path("/proc").glob("[0-9]*/cmdline") if _soaks(path)), 0)
    while now < SOAK_HOURS and at_work.poll() is None:
        time.sleep(2)
        now = hour() - begun
        for wanted in (24, SOAK_HOURS):
            if now >= wanted and wanted not in held:
                held[wanted] = (_memory_kib(pid), len(list(Path(f"/proc/{pid}/fd").iterdir())))
    with contextlib.suppress(ProcessLookupError):
        os.kill(pid, signal.SIGTERM)
    at_work.wait(30)
    box.inside("systemctl start spyhole")
    if set(held) != {24, SOAK_HOURS}:
        outcomes.say("24  three days in fast time", False, f"it came to hour {now:.0f}")
        return
    (early, few), (late, many) = held[24], held[SOAK_HOURS]
    well = late < early * 1.05 and many <= few + 1
    outcomes.say("24  three days in fast time", well, f"{early >> 10} MiB after a day, {late >> 10} after three; "
                 f"{few} and {many} descriptors")  # fmt: skip


def _pid(path: Path) -> int:
    return int(path.parent.name)


def _soaks(path: Path) -> bool:
    try:
        words = path.read_bytes().split(b"\0")
    except OSError:
        return False
    return b"/srv/soak" in words and b"rehearse" in words and b"python" in words[0]
