"""`spyhole watch` as systemd runs it: ready, fed by completed readings, and gone when asked."""

import errno
import os
import signal
import socket
import subprocess
import sys
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.commands import EXIT_NOT_NOW, EXIT_REFUSED, main
from spyhole.app.settings import read_settings
from spyhole.app.watching import studio_of, world_of
from spyhole.core.forms.readings_csv import readings
from spyhole.core.reading import Reading
from spyhole.core.refusal import Refusal
from spyhole.store.archive import open_records


def as_systemd_would(files: Any) -> tuple[list[str], str]:
    """Start it, until three readings are completed; stop it. What it told systemd, and what it said."""
    address = str(files.folder / "notify")
    with closing(socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM)) as systemd:
        systemd.bind(address)
        systemd.settimeout(240)
        process = subprocess.Popen(
            [sys.executable, "-m", "spyhole.app.commands", "watch", "--config", str(files.settings)],
            env={**os.environ, "NOTIFY_SOCKET": address},
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            text=True,
        )
        heard = [systemd.recv(300).decode()]
        while heard.count("WATCHDOG=1") < 3 or not any(one.startswith("READY") for one in heard):
            heard.append(systemd.recv(300).decode())
        process.send_signal(signal.SIGTERM)
        said, _ = process.communicate(timeout=240)
        while not heard[-1].startswith("STOPPING"):
            heard.append(systemd.recv(300).decode())
    assert process.returncode == 0, said
    assert "Traceback" not in said
    return heard, said


def test_systemd_sees_it_ready_alive_and_stopping(files: Any) -> None:
    files.set(files.settings.read_text().replace("port = 0", "port = 0\nsample_seconds = 1"))
    heard, _ = as_systemd_would(files)
    assert sum(one.startswith("READY=1\nSTATUS=Puffin is watched; the page is http://localhost:") for one in heard) == 1
    assert heard.count("WATCHDOG=1") >= 3
    with open_records(files.folder / "record") as records:
        assert records.last_sequence("Puffin") >= 5


SPARED = {
    "PIL", "adafruit_platformdetect", "alembic", "apprise", "argon2", "markdown", "numpy", "pydantic.v1.main",
    "reportlab", "sqlalchemy.orm", "urllib.request",
}  # fmt: skip
"""What some acts need and a steady watch does not: it would hold it for years."""


def test_from_its_first_start_on_it_holds_nothing_that_only_some_act_needs(files: Any) -> None:
    """The first start makes the tables as well, and what that takes is gone again."""
    program = (
        "import os, signal, sys\nfrom spyhole.app import watching\nfrom spyhole.app.commands import main\n"
        "def seen(daemon):\n"
        f"    print('held', sorted({SPARED!r} & set(sys.modules)))\n"
        "    os.kill(os.getpid(), signal.SIGTERM)\n"
        "watching.say_first_code = seen\n"
        f"main(['watch', '--config', {str(files.settings)!r}])\n"
    )
    done = subprocess.run((sys.executable, "-c", program), capture_output=True, text=True, timeout=240, check=False)
    assert "held []" in done.stdout, done.stdout + done.stderr
    with open_records(files.folder / "record") as records:
        assert records.last_sequence("Puffin") >= 1, "the tables are there"


@pytest.mark.parametrize("letters", ["S", "KNRSBJET"])
def test_a_kiln_of_one_ring_and_one_of_eight_are_watched_from_their_files(files: Any, letters: str) -> None:
    names = [f"ring {letter}" for letter in letters]
    probe = "probe = {{ type = '{0}', tolerance_class = 2 }}"
    rings = "\n".join(f"[[ring]]\nname = '{name}'\nwatts = 2000\n{probe.format(name[-1])}" for name in names)
    high = ", ".join(f"'{name}' = 'high'" for name in names)
    times = [f"2031-10-30T19:{minute:02}:{second:02}Z" for minute in range(5) for second in range(60)]
    rows = [",".join([time, *(str(20 + number) for number in range(len(names)))]) for time in times]
    files.set(f"name = 'Gannet'\nmaximum_celsius = 1290\n{rings}\n", "puffin.toml")
    files.set(
        f"name = 'All high'\ncone = '06'\n[[stage]]\nname = 'high'\nswitches = {{ {high} }}\nuntil = 'cone'\n",
        "bisque-05.toml",
    )
    files.set("\n".join([",".join(["time", *names]), *rows, ""]), "friday.csv")
    settings = files.settings.read_text().replace("emulated", "recorded")
    files.set(f"{settings}sample_seconds = 1\nreadings = 'friday.csv'\n")
    heard, _ = as_systemd_would(files)
    assert any("Gannet is watched" in one for one in heard)
    with open_records(files.folder / "record") as records:
        told = [row.told for row in records.rows_after("Gannet", 0)]
    read = [one for one in told if isinstance(one, Reading)]
    assert len(read) >= 3
    assert [probe.celsius for probe in read[-1].probes] == [20.0 + number for number in range(len(names))]


def test_a_card_that_takes_no_writes_at_the_start_is_tried_again_by_systemd(
    files: Any, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It leaves with another code than for settings that are wrong, after which nobody would start it again."""
    opened = os.open

    def read_only(path: Any, *more: Any, **named: Any) -> int:
        if str(path).endswith(".lock"):
            raise OSError(errno.EROFS, os.strerror(errno.EROFS), path)
        return opened(path, *more, **named)

    monkeypatch.setattr(os, "open", read_only)
    assert main(["watch", "--config", str(files.settings)]) == EXIT_NOT_NOW
    assert "Read-only file system" in capsys.readouterr().err
    unit = (Path(__file__).parents[2] / "systemd/spyhole.service").read_text()
    assert f"RestartPreventExitStatus={EXIT_NOT_NOW}" not in unit
    assert f"RestartPreventExitStatus={EXIT_REFUSED}\n" in unit


def test_a_recorded_log_is_played_as_if_it_were_now(files: Any) -> None:
    """driver = "recorded": the rows reach the record, one after another, without any amplifier."""
    files.set(files.settings.read_text().replace("emulated", "recorded") + 'readings = "friday.csv"\n')
    settings = read_settings(files.settings)
    world = world_of(settings)
    try:
        first = world.probes.read()
    finally:
        world.stop_clock()
        world.probes.close()
    lines = files.readings.read_text().splitlines(keepends=True)
    assert first == next(readings(lines, "friday.csv", settings.kiln))[1]
    assert studio_of(settings).emulated, "the page says that this is no kiln"


def test_a_log_that_is_broken_in_its_last_line_is_refused_at_the_start(files: Any) -> None:
    files.set(files.readings.read_text() + "yesterday,1,2,3\n", "friday.csv")
    files.set(files.settings.read_text().replace("emulated", "recorded") + 'readings = "friday.csv"\n')
    with pytest.raises(Refusal, match=r"friday\.csv line \d+"):
        world_of(read_settings(files.settings))
