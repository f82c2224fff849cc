"""A small card of the record's own: full, with errors, read-only, and another one in its place (faults 4 and 5)."""

import contextlib
import subprocess
import time
from pathlib import Path

from asking import Page, afresh
from box import PLACE, Box, Outcomes, stands, until
from outside import Receiver

CARD_MIB = 24
"""So small that the log of the record is not made long beforehand: a full card is felt at the next commit."""

FELT_SECONDS = 10
COMMIT_SECONDS = 10
"""A card's trouble is felt when something is next written down, this often, and said within as much again."""


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
        subprocess.run(["mkfs.ext4", "-q", "-m", "0", self._image], check=True, stdout=subprocess.DEVNULL)
        self.mount()

    def mount(self) -> None:
        """Looked over and put in, as at each start of a machine."""
        subprocess.run(["fsck.ext4", "-p", self._image], check=False, stdout=subprocess.DEVNULL)
        subprocess.run(["mount", "-o", "loop,errors=remount-ro", self._image, self.path], check=True)

    def take_away(self) -> None:
        """No more of it."""
        subprocess.run(["umount", "-q", self.path], check=False, stderr=subprocess.DEVNULL)

    def worn_out(self) -> None:
        """Its file system has found an error in itself, and the kernel takes no more writes to it."""
        found = subprocess.run(["findmnt", "-no", "SOURCE", self.path], stdout=subprocess.PIPE, text=True, check=True)
        Path("/sys/fs/ext4", Path(found.stdout.strip()).name, "trigger_fs_error").write_text("worn out")


def full_or_failing(box: Box, card: Card, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    """No room, then errors: said, alarms told all the same, and over without a restart once it is mended."""
    filler, broken = card.path / "filler", box.root / "srv/eio"

    def fill() -> None:
        with contextlib.suppress(OSError), filler.open("wb", buffering=0) as file:
            while True:
                file.write(bytes(1 << 12))

    kept: list[str] = []
    ways = (
        ("4   the card full", "The disk is full", fill, filler.unlink, "ones"),
        ("5   EIO on fsync (preloaded)", "The disk gives errors", broken.touch, broken.unlink, "forgets"),
    )
    afresh(box, page)
    for words, said_words, begin, end, trouble in ways:
        page.calm()  # what joins a trouble that somebody was called for already is not told anew
        process, since = box.pid(), time.time()
        begin()
        after = _said(box, (f"watch-disk: {said_words}",), since, 90)
        number = words.split()[0]
        stored = page.note(f"{number}.")  # with a stop, so that no note is the beginning of another
        kept.append(f"proof-{number}.")
        told = _told_of(box, trouble, outside)
        mended = time.time()
        end()
        # Over, or only little room again, on a card as small as this.
        over = _said(box, ("watch-disk: over", "watch-disk: The disk has little"), mended, 60)
        well = told and not stored and after < COMMIT_SECONDS + FELT_SECONDS and over < 60 and box.pid() == process
        seen = (
            f"said after {after:.0f} s, a note is not called stored: {not stored}, an alarm told: {told}, over "
            f"{over:.0f} s after it was mended, no restart"
        )
        outcomes.say(words, well, seen)
    record = box.record()
    box.answers(30)
    there = all(any(note in payload for payload in _notes(record)) for note in kept)
    well = record["sound"] == "ok" and record["gap"] == 0 and there
    outcomes.say("4,5 the record afterwards", well, f"{stands(record)}; what was held in memory is in it: {there}")


def read_only(box: Box, card: Card, page: Page, outside: Receiver, outcomes: Outcomes) -> None:
    """As a worn card goes: it takes no more writes, and its file system is read-only until the next start."""
    page.calm()
    since = time.time()
    card.worn_out()
    after = _said(box, ("watch-disk: The disk takes no writes", "watch-disk: The disk gives errors"), since, 90)
    stored = page.note("read-only")
    told = _told_of(box, "open", outside)
    try:
        _goes_on_in_memory(box, page, outcomes)
    finally:
        box.power_cut()
        card.take_away()
        card.mount()
        box.boot(card.bound)
    back = box.answers(60)
    record = box.record()
    box.answers(30)
    well = told and not stored and after < 4 * COMMIT_SECONDS and back
    well &= record["sound"] == "ok" and record["gap"] == 0
    seen = (
        f"said after {after:.0f} s, a note is not called stored: {not stored}, an alarm told: {told}; a new start "
        f"with a card that writes: {stands(record)}"
    )
    outcomes.say("5   the card read-only", well, seen)


def _goes_on_in_memory(box: Box, page: Page, outcomes: Outcomes) -> None:
    """Killed while its card takes no writes, it begins on a copy in memory, says so, and calls nothing kept; killed
    once more it goes on with what memory had. What came between the card's last write and the first kill is lost."""
    since = time.time()
    after = _killed(box, page)
    said = _said(box, ("No record is kept",), since, 60)
    first = page.sequence()
    goes_on = until(30, lambda: page.sequence() > first + COMMIT_SECONDS)
    stored, before = page.note("in-memory"), page.sequence()
    again = _killed(box, page)
    kept = page.sequence() >= before
    seen = (
        f"the page back after {after:.0f} s, said after {said:.0f} s, readings go on: {goes_on}, a note is not called "
        f"stored: {not stored}; killed again, back after {again:.0f} s, with what it had: {kept}"
    )
    well = max(after, said, again) < 60 and goes_on and not stored and kept
    outcomes.say("5   started on a card that takes no writes", well, seen)


def _killed(box: Box, page: Page) -> float:
    """Seconds until the page is back from another process; 999 for never."""
    old = box.pid()
    box.kill()
    began = time.monotonic()
    back = until(60, lambda: box.pid() not in (0, old) and bool(page.now()))
    return time.monotonic() - began if back else 999.0


def _notes(record: dict[str, object]) -> list[str]:
    notes = record["notes"]
    assert isinstance(notes, list)
    return notes


def _told_of(box: Box, trouble: str, outside: Receiver) -> bool:
    """Whether somebody is told of a trouble of the amplifiers that begins now."""
    since = time.time()
    box.trouble(trouble)
    told = until(90, lambda: outside.heard("amplifier", since) is not None or outside.heard("probe", since) is not None)
    box.trouble("")
    return told


def _said(box: Box, words: tuple[str, ...], since: float, seconds: float) -> float:
    """How long after an instant of the clock the service said one of these; 999 for never."""
    command = f"journalctl -u spyhole -o short-unix --no-pager --since=@{int(since)}"
    found: list[float] = []

    def there() -> bool:
        lines = [line for line in box.inside(command)[1].splitlines() if any(one in line for one in words)]
        found.extend(float(line.split()[0]) for line in lines if float(line.split()[0]) >= since)
        return bool(found)

    return max(found[0] - since, 0.0) if until(seconds, there, 1.0) else 999.0
