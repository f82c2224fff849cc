"""The installer: what is right already is left alone, so it may be run again, and again after a kill."""

import os
import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from spyhole.app.appliance import boot, trial
from spyhole.app.appliance.house import FIRST, House, alone, as_user, asked, link, need_root, run, say, write
from spyhole.app.appliance.settle import settle, shown, systemctl
from spyhole.app.appliance.source import UNITS, Source, debian_needs, make
from spyhole.app.appliance.trial import Trial
from spyhole.app.hatch import STANDING, ask
from spyhole.core.refusal import Refusal

ROOM_BYTES = 600 * 1024 * 1024
NAME = re.compile(r"[a-z][a-z0-9-]{0,30}")
TAKEN = ("backups", "puffin", "restoring")


@dataclass(frozen=True, slots=True)
class Wish:
    """now: also during a firing. apply_boot: change the boot file, not only show it."""

    now: bool = False
    apply_boot: bool = False
    clock_module: str = ""


def install(source: Source, house: House, wish: Wish) -> int:
    """Into service, or a newer version in the place of the one that is; 1 when it is not well. Refusal."""
    need_root()
    os.umask(0o022)
    lines = boot.wanted(_pins(house), wish.clock_module)
    house.opt.mkdir(mode=0o755, parents=True, exist_ok=True)
    _settled(house)
    with alone(house):
        _machine(source, house)
        make(source, house)
        _settings(source, house)
        changed = source.id != trial.in_service(house)
        if changed:
            _change(source, house, now=wish.now)
        _unit_links(house)
    if changed:
        say("the new version begins, and is looked at")
        # By a unit of its own: it goes on when this terminal is gone, and at the next start of the machine.
        asked("systemctl", "start", "spyhole-settle.service")
    else:
        say(f"{source.id} is in service already")
        for unit in house.kilns():
            systemctl("start", unit)
    if trial.in_service(house) != source.id:
        say(f"{source.id} was not well, and {trial.in_service(house)} is back in service, with its record.")
        say("journalctl -u spyhole-settle -u spyhole says why.")
        return 1
    _boot(house, lines, apply=wish.apply_boot)
    ill = [unit for unit in house.kilns() if shown(unit)["ActiveState"] != "active"]
    if ill:
        say(f"{', '.join(ill)} does not run yet: journalctl -u {ill[0]} says why")
        return 1
    _way_in(house)
    return 0


def add_kiln(name: str, house: House) -> int:
    """A further kiln on this machine: settings, data folder, port and service of its own. Refusal."""
    need_root()
    if not NAME.fullmatch(name) or name in TAKEN:
        raise Refusal(name, "a kiln's service cannot be called that", "small letters, digits and dashes: raku")
    if not trial.in_service(house):
        raise Refusal("kiln", "spyhole is not installed yet", "sudo systemd/install")
    with alone(house):
        unit, folder = f"{FIRST}@{name}", house.settings / name
        ports = {house.page(one)[1] for one in house.kilns()} | {
            house.page(f"{FIRST}@{config.parent.name}")[1] for config in house.settings.glob("*/spyhole.toml")
        }
        if not (folder / "spyhole.toml").exists():
            _own(folder)
            for file in ("puffin.toml", "bisque-06.toml"):
                _keep(folder / file, (house.current / "settings" / file).read_text())
            first = (house.current / "settings/first.toml").read_text()
            first = first.replace('"/var/lib/spyhole"', f'"/var/lib/spyhole/{name}"')
            _keep(folder / "spyhole.toml", f"{first}port = {max(ports | {8420}) + 1}\n")
        link(house.wanted / f"{unit}.service", "../spyhole@.service")
        systemctl("daemon-reload")
        systemctl("start", unit)
        say(f"{unit} watches by {house.config(unit)}; its page is on port {house.page(unit)[1]}.")
        say(f"After a change there:  sudo systemctl restart {unit}")
    return 0


def _machine(source: Source, house: House) -> None:
    say("user spyhole, and who may use the SPI bus and the pins")
    for group in ("spi", "gpio"):
        if asked("getent", "group", group)[0] != 0:
            run("groupadd", "--system", group, what=f"the group {group}")
    write(house.root / "usr/lib/sysusers.d/spyhole.conf", source.text("spyhole.sysusers.conf"))
    run("systemd-sysusers", house.root / "usr/lib/sysusers.d/spyhole.conf", what="the user spyhole")
    (house.root / "etc/udev/rules.d").mkdir(parents=True, exist_ok=True)
    write(house.root / "etc/udev/rules.d/60-spyhole.rules", source.text("60-spyhole.rules"))
    journal = house.root / "etc/systemd/journald.conf.d/60-spyhole.conf"
    journal.parent.mkdir(parents=True, exist_ok=True)
    if not journal.exists():
        write(journal, source.text("60-spyhole-journal.conf"))
        systemctl("try-restart", "systemd-journald")
    house.opt.mkdir(parents=True, exist_ok=True)
    if shutil.disk_usage(house.opt).free < ROOM_BYTES:
        raise Refusal(str(house.opt), "there is too little room on the card for another version", "600 MB are needed")
    needed = debian_needs()
    if needed:
        say(f"from Debian: {', '.join(needed)}")
        run("apt-get", "update", "--quiet", what="Debian's lists")
        run("apt-get", "install", "--yes", "--quiet", "--no-install-recommends", *needed, what="Debian's packages")


def _settings(source: Source, house: House) -> None:
    say(f"settings, in {house.settings}: what is there stays")
    _own(house.settings)
    for name in ("puffin.toml", "bisque-06.toml"):
        _keep(house.settings / name, source.text(name))
    _keep(house.settings / "spyhole.toml", source.text("first.toml"))
    example = house.settings / "spyhole.example.toml"
    write(example, source.text("spyhole.example.toml"), 0o640)
    shutil.chown(example, group=FIRST)
    beside = house.versions / source.id / "settings"
    beside.mkdir(exist_ok=True)
    for name in ("puffin.toml", "bisque-06.toml", "first.toml"):
        write(beside / name, source.text(name))


def _own(folder: Path) -> None:
    folder.mkdir(mode=0o750, exist_ok=True)
    shutil.chown(folder, group=FIRST)


def _keep(path: Path, text: str) -> None:
    if not path.exists():
        write(path, text, 0o640)
        shutil.chown(path, group=FIRST)


def _change(source: Source, house: House, *, now: bool) -> None:
    """The trial of another version, with a copy of the record before. Until the rename the old one is in service."""
    old = trial.in_service(house)
    units = tuple(unit for unit in house.kilns() if shown(unit)["ActiveState"] in ("active", "activating")) or (FIRST,)
    for unit in units:
        say(f"the settings of {unit}, read by the new version")
        code, said = asked(
            *as_user(house.versions / source.id / "bin/spyhole", "check", "--settings", "--config", house.config(unit))
        )
        if code != 0:
            raise Refusal(str(house.config(unit)), said.removeprefix("spyhole: "), "nothing was changed")
        _refuse_in_firing(unit, house, now=now)
    if old:
        for unit in units:
            _copy_of_record(unit, house, old)
    say(f"from {old or 'nothing'} to {source.id}")
    trial.begin(house, Trial(source.id, old, units))
    trial.switch(house, source.id)


def _refuse_in_firing(unit: str, house: House, *, now: bool) -> None:
    if now or shown(unit)["ActiveState"] != "active":
        return
    try:
        standing = ask(house.data_of(unit), STANDING, {})
    except (Refusal, OSError, ValueError):
        standing = "firing"
    if standing == "firing":
        problem = (
            f"a firing is on at {unit}, or nobody can say that none is, and a restart leaves it unseen for some seconds"
        )
        raise Refusal("install", problem, "wait until it is over, or add --now")


def _copy_of_record(unit: str, house: House, old: str) -> None:
    """By the version that wrote it, which may be watching."""
    data = house.data_of(unit)
    record = data / "spyhole.db"
    if not record.is_file():
        return
    say(f"a copy of the record of {unit}")
    if shutil.disk_usage(data).free < 2 * record.stat().st_size + ROOM_BYTES // 4:
        raise Refusal(str(data), "there is no room for a copy of the record, so nothing was changed", "make room")
    code, said = asked(*as_user(house.versions / old / "bin/spyhole", "backup", "--data", data))
    if code != 0:
        raise Refusal(unit, f"its record could not be copied, so nothing was changed: {said}", "mend that first")
    say(said.splitlines()[0])


def _unit_links(house: House) -> None:
    """Units through `current`, and what is started with the machine. What somebody disabled stays disabled."""
    first_time = not (house.units / f"{FIRST}.service").is_symlink()
    house.wanted.mkdir(parents=True, exist_ok=True)
    (house.units / "timers.target.wants").mkdir(exist_ok=True)
    for name in (*UNITS, "spyhole@.service"):
        link(house.units / name, f"{house.current}/units/{name}")
    link(house.command, f"{house.current}/bin/spyhole")
    if first_time:
        link(house.wanted / f"{FIRST}.service", f"../{FIRST}.service")
        link(house.units / "timers.target.wants/spyhole-selftest.timer", "../spyhole-selftest.timer")
    link(house.wanted / "spyhole-settle.path", "../spyhole-settle.path")
    systemctl("daemon-reload")
    if first_time:
        systemctl("start", "--no-block", "spyhole-settle.path", "spyhole-selftest.timer")


def _settled(house: House) -> None:
    """A trial that an earlier run left is ended first."""
    if trial.read(house) is not None:
        say("an earlier change is settled first")
        if house.current.is_symlink():
            _unit_links(house)
        asked("systemctl", "start", "spyhole-settle.service")
        with alone(house):
            settle(house)


def _pins(house: House) -> tuple[int, ...]:
    """Chip selects of every kiln's settings; the usual ones while none are named."""
    import tomllib

    pins: set[int] = set()
    for config in (house.settings / "spyhole.toml", *house.settings.glob("*/spyhole.toml")):
        try:
            told = tomllib.loads(config.read_text())
            pins |= {int(probe["chip_select"]) for probe in told.get("probe", [])}
            if "current" in told:
                pins.add(int(told["current"]["chip_select"]))
        except (OSError, ValueError, KeyError, TypeError):
            continue
    return tuple(sorted(pins)) or boot.PINS


def _boot(house: House, lines: tuple[str, ...], *, apply: bool) -> None:
    path = boot.boot_file(house)
    if path is None:
        say("this is no Raspberry Pi, or its boot file is elsewhere: nothing to change there")
        return
    text = boot.with_lines(path.read_text(), lines)
    shown_words = boot.difference(path, text)
    if not shown_words:
        say(f"{path} has all the amplifiers need")
    elif apply:
        print(shown_words, flush=True)
        say(f"done; what was there is kept as {boot.apply(path, text)}. Restart the Pi for it.")
    else:
        say(f"for the amplifiers {path} would change so, and has not been touched:")
        print(shown_words, flush=True)
        say("to have it so:  sudo systemd/install --apply-boot   (or change it by hand), then restart the Pi")


def _way_in(house: House) -> None:
    """Where the page is, and while nobody was let in the square that lets the first keeper in."""
    for unit in house.kilns():
        access = as_user(house.command, "access", "--config", house.config(unit))
        if "Nobody has been let in yet" in asked(*access, "list")[1]:
            print(asked(*access, "code")[1], flush=True)
        say(f"{unit} runs: port {house.page(unit)[1]} of this machine. What it says: journalctl -u {unit} -f")
    say("describe your kiln in /etc/spyhole; then: sudo systemctl restart spyhole. The handbook is on the page.")
    say("spyhole is an aid and no safety device. Everything on the mains is for a licensed electrician.")
