"""What a Pi's boot file needs for the amplifiers: worked out, shown, and put there when somebody wants it."""

import os
from pathlib import Path

from spyhole.app.appliance.house import House, sync
from spyhole.core.refusal import Refusal

PLACES = ("boot/firmware/config.txt", "boot/config.txt")
CLOCK_MODULES = ("ds1307", "ds3231", "pcf8523", "pcf8563", "rv3028")
"""By the names the firmware's i2c-rtc overlay knows them (its README; from memory, tried on no Pi)."""

PINS = (5, 6, 7)
COPY = ".before-spyhole"


def boot_file(house: House) -> Path | None:
    """The Pi's boot file; None on another machine."""
    return next((house.root / place for place in PLACES if (house.root / place).is_file()), None)


def wanted(pins: tuple[int, ...] = PINS, clock_module: str = "") -> tuple[str, ...]:
    """The lines: the bus without its own chip selects, the amplifiers deselected from power-on, the chip's watchdog.

    pins: GPIO numbers of chip selects. clock_module: one of CLOCK_MODULES, or "". Refusal for another.
    """
    if clock_module and clock_module not in CLOCK_MODULES:
        raise Refusal("--clock-module", f"{clock_module!r} is not known", f"there are {', '.join(CLOCK_MODULES)}")
    clock = ("dtparam=i2c_arm=on", f"dtoverlay=i2c-rtc,{clock_module}") if clock_module else ()
    selects = f"gpio={','.join(map(str, pins))}=op,dh"
    return ("dtparam=spi=on", "dtoverlay=spi0-0cs", selects, "dtparam=strict_gpiod", "dtparam=watchdog=on", *clock)


def with_lines(text: str, lines: tuple[str, ...]) -> str:
    """The boot file with those of the lines at its end that hold nowhere for every Pi yet."""
    there, for_all = set(), True
    for line in (line.strip() for line in text.splitlines()):
        if line.startswith("["):
            for_all = line.lower() == "[all]"
        elif for_all:
            there.add(line.replace(" ", ""))
    missing = [line for line in lines if line not in there]
    if not missing:
        return text
    body = text if not text or text.endswith("\n") else f"{text}\n"
    return "\n".join([f"{body}\n# for spyhole, which watches the kiln\n[all]", *missing, ""])


def difference(path: Path, text: str) -> str:
    """What would change, line by line; "" for nothing."""
    from difflib import unified_diff

    old = path.read_text().splitlines(keepends=True)
    return "".join(unified_diff(old, text.splitlines(keepends=True), str(path), "with spyhole", n=2))


def apply(path: Path, text: str) -> Path:
    """Put it there, whole or not at all; returns the copy of what was there."""
    copy = path.with_name(path.name + COPY)
    number = 1
    while copy.exists():
        number += 1
        copy = path.with_name(f"{path.name}{COPY}-{number}")
    for target, words in ((copy, path.read_text()), (path, text)):
        part = target.with_name(f"{target.name}.part")
        with part.open("w") as file:
            file.write(words)
            file.flush()
            os.fsync(file.fileno())
        os.replace(part, target)
    sync(path.parent)
    return copy
