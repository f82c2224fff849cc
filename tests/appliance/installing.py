"""A bare Debian, and the installer: from a checkout, again, from a wheel, for two kilns, and away again."""

import signal
import subprocess
import time

from box import CONFIG, SPYHOLE, Box, Outcomes, until

TREE = (
    "find /opt/spyhole /etc/spyhole /etc/systemd /etc/udev/rules.d /usr/lib/sysusers.d /usr/local/bin /boot "
    "! -name '*.pyc' ! -name __pycache__ -printf '%p %m %u %g %l ' -type f -exec sha256sum {} ';' -o "
    "! -name '*.pyc' -printf '\\n' | sort | sha256sum"
)
BOOT = "# from the factory\\ndtparam=audio=on\\n[pi4]\\narm_boost=1\\n"


def prove(box: Box, outcomes: Outcomes) -> None:
    """One line each."""
    code, said = box.inside("sh spyhole/systemd/install")
    outcomes.say("installed from a checkout, on the emulated kiln, the page answers", code == 0 and box.answers())
    outcomes.say("address and square printed", "/door#code=" in said and "█" in said and "port 8420" in said)
    outcomes.say("python", True, box.inside("/opt/spyhole/current/bin/python --version")[1])

    before, began = box.inside(TREE)[1], box.pid()
    code, _ = box.inside("sh spyhole/systemd/install")
    same = before == box.inside(TREE)[1] and began == box.pid()
    outcomes.say("a second run changes nothing, and the watch goes on unmoved", code == 0 and same)

    for step in (_killed, _boot_file, _two_kilns, _selftest, _away, _from_a_wheel):
        with outcomes.each(step.__name__.strip("_")):
            step(box, outcomes)


def _killed(box: Box, outcomes: Outcomes) -> None:
    old = box.pid()
    box.kill()
    began = time.monotonic()
    well = until(10, lambda: box.pid() not in (0, old)) and box.answers(10)
    outcomes.say("killed, and back", well, f"{time.monotonic() - began:.1f} s until the page answered")
    old = box.pid()
    box.kill(sort=signal.SIGSTOP)
    began = time.monotonic()
    well = until(90, lambda: box.pid() not in (0, old)) and box.answers(20)
    outcomes.say("stopped whole, its watchdog starves, started again", well, f"after {time.monotonic() - began:.0f} s")
    said = box.inside("systemd-analyze security spyhole --no-pager | tail -1")[1]
    outcomes.say("exposure, as systemd counts on this Debian", "OK" in said, said.replace("→ ", "").strip())


def _boot_file(box: Box, outcomes: Outcomes) -> None:
    box.inside(f"mkdir -p /boot/firmware && printf '{BOOT}' >/boot/firmware/config.txt")
    path = box.root / "boot/firmware/config.txt"
    was = path.read_text()
    code, said = box.inside("sh spyhole/systemd/install")
    shown = code == 0 and "+dtoverlay=spi0-0cs" in said and path.read_text() == was
    outcomes.say("the boot file's change is shown and not made", shown)
    code, said = box.inside("sh spyhole/systemd/install --apply-boot --clock-module ds3231")
    now = path.read_text()
    copy = path.with_name("config.txt.before-spyhole").read_text()
    well = code == 0 and copy == was and now.startswith(was) and "\n[all]\ndtparam=spi=on\n" in now and "ds3231" in now
    again = box.inside("sh spyhole/systemd/install --apply-boot --clock-module ds3231")[1]
    outcomes.say("made when asked for, once, with a copy", well and "has all" in again and path.read_text() == now)


def _two_kilns(box: Box, outcomes: Outcomes) -> None:
    code, _ = box.inside("spyhole appliance kiln raku")
    both = code == 0 and box.answers(30, 8421) and box.answers()
    first = box.pid()
    box.kill("spyhole@raku")
    alone = until(10, lambda: box.pid("spyhole@raku") != 0) and box.answers(10, 8421) and box.pid() == first
    apart = (box.root / "var/lib/spyhole/raku/spyhole.db").is_file()
    outcomes.say("a second kiln: own settings, data, port and service; one killed, the other unmoved", both and alone
                 and apart)  # fmt: skip


def _selftest(box: Box, outcomes: Outcomes) -> None:
    timer = box.inside("systemctl is-active spyhole-selftest.timer")[1] == "active"
    box.inside("systemctl start spyhole-selftest")
    said = box.inside("journalctl -u spyhole-selftest -o cat --no-pager")[1]
    outcomes.say("the self-test of both finds nothing", timer and said.count("ok       Puffin") == 2)
    box.inside("systemctl stop spyhole@raku; systemctl start spyhole-selftest")
    said = box.inside("journalctl -u spyhole-selftest -o cat --no-pager")[1]
    outcomes.say("and says which does not run", "wrong    Puffin: spyhole does not run" in said)
    box.inside("systemctl start spyhole@raku")


def _away(box: Box, outcomes: Outcomes) -> None:
    box.answers()
    record = box.record()["rows"]
    code, _ = box.inside("spyhole appliance uninstall")
    gone = not (box.root / "opt/spyhole").exists() and box.pid() == 0 and box.pid("spyhole@raku") == 0
    kept = (box.root / "var/lib/spyhole/spyhole.db").exists() and (box.root / "etc/spyhole/spyhole.toml").exists()
    outcomes.say("uninstalled: the service is gone, settings and record stay", code == 0 and gone and kept)
    code, _ = box.inside("sh spyhole/systemd/install")
    again = box.record()["rows"]
    assert isinstance(record, int)
    assert isinstance(again, int)
    outcomes.say("installed again, it goes on with that record", code == 0 and again > record, f"{again} rows")
    asks, _ = box.inside("spyhole appliance uninstall --purge </dev/null")
    there = (box.root / "var/lib/spyhole/spyhole.db").exists() and box.answers()
    code, _ = box.inside("spyhole appliance uninstall --purge --yes")
    left = [name for name in ("opt/spyhole", "var/lib/spyhole", "etc/spyhole", "usr/local/bin/spyhole")
            if (box.root / name).exists()]  # fmt: skip
    second, _ = box.inside("cd spyhole && PYTHONPATH=daemon python3 -m spyhole.app.appliance uninstall --purge --yes")
    well = asks == 2 and there and code == 0 and not left and second == 0
    outcomes.say("--purge asks first, then takes everything; a second time does no harm", well)


def _from_a_wheel(box: Box, outcomes: Outcomes) -> None:
    wheel = build(box, "wheel", "spyhole")
    code, _ = box.inside(f"env PYTHONPATH={wheel} python3 -m spyhole.app.appliance install")
    outcomes.say("installed from a wheel alone, the page answers", code == 0 and box.answers())
    said = box.inside(f"{SPYHOLE} access {CONFIG} list")[1]
    outcomes.say("a command of the handbook, as its own user", "first code" in said or "keeper" in said)


def build(box: Box, name: str, checkout: str) -> str:
    """A wheel of this checkout in the box, as a developer makes one; its path there."""
    if not (box.root / "srv/tools/bin").exists():
        pip = "/srv/tools/bin/pip install -q --require-hashes --no-deps -r spyhole"
        box.inside(f"python3 -m venv /srv/tools && {pip}/requirements-tools.txt && {pip}/requirements-node.txt")
    tools = "/srv/tools/bin/pip wheel -q --no-deps --no-build-isolation"
    code, said = box.inside(f"rm -rf {name} && {tools} -w {name} ./{checkout} && ls /srv/{name}/*.whl")
    if code:
        raise subprocess.SubprocessError(said)
    return said.splitlines()[-1]
