"""Takes the service away again. Settings and record stay, unless somebody wants them gone and says so twice."""

import shutil
import sys

from spyhole.app.appliance.house import FIRST, USER, House, asked, need_root, say, sync
from spyhole.app.appliance.settle import systemctl
from spyhole.app.appliance.source import UNITS
from spyhole.core.refusal import Refusal

WORD = "remove"


def uninstall(house: House, *, purge: bool, yes: bool) -> int:
    """Everything the installer put there, but for settings and record; those too with `purge`. May be run again."""
    need_root()
    if purge and not yes:
        say(f"--purge deletes every firing in {house.data}, with its backups, and the settings in {house.settings}.")
        if not sys.stdin.isatty() or input(f"To do so type the word {WORD}: ").strip() != WORD:
            raise Refusal("--purge", "nothing was removed", "carry a backup away first: spyhole backup; then add --yes")
    for unit in (
        *house.kilns(),
        FIRST,
        "spyhole-settle.path",
        "spyhole-settle",
        "spyhole-selftest.timer",
        "spyhole-selftest",
    ):
        asked("systemctl", "stop", unit)
    for folder in (house.units, house.wanted, house.units / "timers.target.wants"):
        for path in (*folder.glob("spyhole@*.service"), *(folder / name for name in UNITS)):
            path.unlink(missing_ok=True)
    for name in (
        "etc/udev/rules.d/60-spyhole.rules", "usr/lib/sysusers.d/spyhole.conf",
        "etc/systemd/journald.conf.d/60-spyhole.conf", "usr/local/bin/spyhole",
    ):  # fmt: skip
        (house.root / name).unlink(missing_ok=True)
    systemctl("daemon-reload")
    shutil.rmtree(house.opt, ignore_errors=True)
    if purge:
        shutil.rmtree(house.settings, ignore_errors=True)
        shutil.rmtree(house.data, ignore_errors=True)
        asked("userdel", USER)
        say("the service, its settings, every firing and the user are gone")
    else:
        say(f"the service is gone. Settings stay in {house.settings}, the record in {house.data}")
    sync(house.root)
    return 0
