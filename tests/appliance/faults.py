"""Faults that the installed service has to bear, by their numbers in what was asked for.

The box has a wire of its own to this machine, and its record lies on a small card of its own.
"""

import os
import random
import shutil
import signal
import subprocess
import time
from collections.abc import Callable
from pathlib import Path

import card as cards
import crowds
from asking import Page, afresh
from box import Box, Outcomes, stands, until
from card import Card
from outside import Receiver
from soak import soak

SEED = 20261125
KILLS = int(os.environ.get("KILLS", "20"))
TOO_HOT = {"kiln-limit", "ceiling-passed", "guard-cone", "runaway", "shutoff-overdue"}
SAMPLING_SECONDS = 5.0
HERE = Path(__file__).parent


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
        steps: dict[str, Callable[[], None]] = {
            "12": lambda: _bus(box, page, outcomes),
            "14": lambda: crowds.thousand_pages(box, page, outside, outcomes),
            "15": lambda: crowds.never_reading(box, page, outcomes),
            "16": lambda: crowds.half_open(box, page, outside, outcomes),
            "4,5": lambda: cards.full_or_failing(box, card, page, outside, outcomes),
            "5": lambda: cards.read_only(box, card, page, outside, outcomes),
            "19": lambda: _frozen(box, outcomes),
            "1": lambda: _killed(box, page, outcomes),
            "24": lambda: soak(box, outcomes),
            "20": lambda: _unheard(box, card, outside, outcomes),
        }
        chosen = os.environ.get("FAULTS", "").split() or list(steps)
        for number in chosen:
            step = steps[number]
            with outcomes.each(number):
                step()
    finally:
        outside.server.shutdown()
        box.power_cut()
        card.take_away()


def _prepare(box: Box) -> None:
    """Settings, the wires' troubles, and the card's."""
    box.settings(f'tell = "json://{box.here}:8490/hook"')
    with (box.root / "etc/spyhole/spyhole.toml").open("a") as file:
        file.write(f'[heartbeat]\nurl = "http://{box.here}:8490/beat"\n')
    (packages,) = (box.root / "opt/spyhole/versions" / box.version() / "lib").glob("python3*/site-packages")
    shutil.copy(HERE / "bus_faults.py", packages / "spyhole_bus_faults.py")
    (packages / "spyhole_bus_faults.pth").write_text("import spyhole_bus_faults\n")
    made = box.root / "srv/disk_errors.so"
    subprocess.run(["cc", "-shared", "-fPIC", "-O1", "-o", made, HERE / "disk_errors.c", "-ldl"], check=True)
    drop_in = box.root / "etc/systemd/system/spyhole.service.d"
    drop_in.mkdir(exist_ok=True)
    # A Pi has nothing else to do: here the watch goes before whatever this machine does besides.
    words = "[Service]\nEnvironment=LD_PRELOAD=/srv/disk_errors.so\nCPUSchedulingPolicy=rr\nCPUSchedulingPriority=1\n"
    (drop_in / "proof.conf").write_text(words)
    for name in ("bus", "eio"):
        (box.root / "srv" / name).unlink(missing_ok=True)


def _killed(box: Box, page: Page, outcomes: Outcomes) -> None:
    """Fault 1: notes that were called stored, an alarm and the backup timer are there after each kill."""
    chance = random.Random(SEED)
    afresh(box, page)
    page.ask("/api/entries", {"kind": "timer", "value": "300", "who": "Ruth"})
    box.trouble("one-open")
    until(180, lambda: all(_standing(page)))
    stood = _standing(page)
    kept: list[str] = []
    took: list[float] = []
    otherwise = 0
    for number in range(KILLS):
        time.sleep(chance.uniform(0.2, 3))
        pid = box.pid()
        if page.note(f"kill-{number}."):
            kept.append(f"proof-kill-{number}.")
        began = time.monotonic()
        os.kill(pid, signal.SIGKILL)
        if not until(60, lambda: page.sequence() > 0, 0.05):
            outcomes.say(f"1   {KILLS} kills", False, f"it did not come back from kill {number + 1}")
            return
        first = page.sequence()
        until(30, lambda first=first: page.sequence() > first, 0.05)  # type: ignore[misc]
        took.append(time.monotonic() - began)
        otherwise += _standing(page) != stood
    box.trouble("")
    record = box.record()
    box.answers(30)
    notes = record["notes"]
    assert isinstance(notes, list)
    lost = sum(not any(one in payload for payload in notes) for one in kept)
    slow = sum(seconds > SAMPLING_SECONDS for seconds in took)
    well = record["sound"] == "ok" and record["gap"] == 0 and not lost and not otherwise and all(stood) and not slow
    seen = (
        f"{len(kept)} notes were called stored, {lost} of them lost; alarm and timer otherwise after {otherwise}; to a "
        f"new reading on the page median {sorted(took)[len(took) // 2]:.1f}, longest {max(took):.1f} s, {slow} times "
        f"more than {SAMPLING_SECONDS:g}; {stands(record)}; load {os.getloadavg()[0]:.0f}"
    )
    outcomes.say(f"1   {KILLS} kills (seed {SEED})", well, seen)


def _standing(page: Page) -> tuple[list[tuple[object, object]], object]:
    """Episodes with their alarms, and the instant at which the backup timer ends."""
    timer = page.now().get("timer")
    ends = timer["ends_utc_ms"] if isinstance(timer, dict) else None
    return [(alarm["episode"], alarm["tag"]) for alarm in page.alarms() if alarm["tag"] == "probe-open"], ends


def _rings(page: Page) -> list[tuple[object, object]]:
    rings = page.now().get("rings", [])
    assert isinstance(rings, list)
    return [(ring["celsius"], ring["fault"]) for ring in rings if ring["has_probe"]]


def _bus(box: Box, page: Page, outcomes: Outcomes) -> None:
    """What the wires say is not believed from the next reading on: the last number of a ring ages, and is then gone.

    Shorted leads show the amplifier's own temperature and reversed ones a falling one: the chip has no fault for
    either, and the watch tells by the curve, in minutes (probe-out, probe-reversed). Here: no wild number of them.
    """
    seen, well = [], until(60, lambda: bool(_numbers(page)))
    for name in ("zeros", "ones", "random", "converts-not", "open", "shorted", "reversed", "forgets"):
        well &= until(60, lambda: _fresh(page))
        began = int(str(page.now()["now_utc_ms"]))
        box.trouble(name)
        wild = False
        for _ in range(12):
            time.sleep(1)
            wild |= any(number < -100 or number > 300 for number in _numbers(page))
        rings = page.now()["rings"]
        assert isinstance(rings, list)
        last = max(ring["seen_utc_ms"] - began for ring in rings) / 1000
        hot = page.conditions() & TOO_HOT
        box.trouble("")
        quiet = name in ("shorted", "reversed", "forgets")
        good = not wild and not hot and (quiet or last <= 5)
        well &= good
        seen.append(f"{name} {'no wild number' if quiet else f'last believed at {last:.0f} s'}{'' if good else ' NOT'}")
    record = box.record()
    box.answers(30)
    wild = float(str(record["coldest"])) < -100 or float(str(record["hottest"])) > 300
    seen.append(f"in the record from {record['coldest']} to {record['hottest']} degC")
    well &= not wild
    outcomes.say("12  bus and chip: garbage is never believed nor kept, no alarm of heat", well, ", ".join(seen))


def _fresh(page: Page) -> bool:
    """Whether each ring was believed a moment ago: after the last trouble, which took longer."""
    now = page.now()
    rings = now.get("rings", [])
    assert isinstance(rings, list)
    ages = [int(str(now["now_utc_ms"])) - (ring["seen_utc_ms"] or 0) for ring in rings if ring["has_probe"]]
    return bool(ages) and max(ages) <= 8_000


def _numbers(page: Page) -> list[float]:
    return [celsius for celsius, fault in _rings(page) if fault is None and isinstance(celsius, int | float)]


def _frozen(box: Box, outcomes: Outcomes) -> None:
    old = box.pid()
    box.trouble("hang")
    began = time.monotonic()
    well = until(95, lambda: box.pid() not in (0, old), 0.5)
    seconds = time.monotonic() - began
    box.trouble("")
    well &= box.answers(60)
    outcomes.say(
        "19  the sampler's thread hangs in a transfer", well and seconds <= 90, f"started again after {seconds:.0f} s"
    )


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
