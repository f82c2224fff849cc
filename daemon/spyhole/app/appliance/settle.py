"""Ends a trial: the new version is seen well and kept, or the old one comes back, with the record as it was.

Every step may be killed, and all of it may be run again: what is done is asked of the machine, not remembered.
"""

import http.client
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

from spyhole.app.appliance import trial as trials
from spyhole.app.appliance.house import House, as_user, asked, say
from spyhole.app.appliance.trial import Trial

SECONDS_TO_ANSWER = 300
"""A record of ten years is copied and its tables changed in that time, on a slow card."""

SECONDS_WELL = 8
RESTARTS_TO_BEAR = 6
"""Each by systemd itself; a restart by hand counts from nothing."""

REFUSED = 2


def settle(house: House) -> int:
    """End the trial that is on, if one is. 1 when the old version had to come back."""
    trial = trials.read(house)
    if trial is None:
        return 0
    here = trials.in_service(house)
    if here != trial.new:
        if trial.back:
            _gone_back(house, trial)
        else:
            trials.end(house)
        return 1 if trial.back else 0
    if not trial.back:
        systemctl("daemon-reload")
        for unit in trial.units:
            if not runs(shown(unit), trial.new):
                systemctl("restart", "--no-block", unit)
        ill = next((words for unit in trial.units if (words := illness(house, unit, trial))), "")
        if not ill:
            say(f"{trial.new} is in service and well")
            trials.prune(house, trial.new, trial.old)  # before the end: whoever comes next finds nobody at work
            trials.end(house)
            return 0
        say(f"{trial.new} is not well: {ill}")
        if not trial.old:
            trials.end(house)  # nothing to go back to; systemd goes on trying
            return 1
        trial = replace(trial, back=True)
        trials.begin(house, trial)
    _go_back(house, trial)
    return 1


def _go_back(house: House, trial: Trial) -> None:
    say(f"going back to {trial.old}")
    for unit in trial.units:
        systemctl("stop", unit)
        config = house.config(unit)
        old, new = (house.versions / version / "bin/spyhole" for version in (trial.old, trial.new))
        if asked(*as_user(old, "record", "check", "--config", config))[0] == REFUSED:
            code, said = asked(*as_user(new, "record", "back", "--config", config))
            say(said if code == 0 else f"the record of {unit} stays as it is: {said}")
    trials.switch(house, trial.old)
    systemctl("daemon-reload")
    _gone_back(house, trial)


def _gone_back(house: House, trial: Trial) -> None:
    start(trial.units)
    trials.drop(house, trial.new)  # this very program, mostly: all it still needs is loaded
    trials.end(house)


def start(units: tuple[str, ...]) -> None:
    """These, without waiting for each."""
    for unit in units:
        systemctl("reset-failed", unit)
        systemctl("start", "--no-block", unit)


def illness(
    house: House, unit: str, trial: Trial, seconds: Callable[[], float] = time.monotonic,
    wait: Callable[[float], None] = time.sleep,
) -> str:  # fmt: skip
    """What is wrong with a kiln's watch under the new version; "" once it has been well for a while."""
    until = seconds() + SECONDS_TO_ANSWER
    well_since, process = None, ""
    while seconds() < until:
        wait(0.5)
        state = shown(unit)
        if state["ActiveState"] == "failed":
            return f"{unit} has failed ({state['Result']}); journalctl -u {unit} says why"
        if state["NRestarts"] not in ("", "0") and int(state["NRestarts"]) >= RESTARTS_TO_BEAR:
            return f"{unit} ends as soon as it starts; journalctl -u {unit} says why"
        if state["MainPID"] != process or not runs(state, trial.new) or not answers(*house.page(unit)):
            well_since, process = None, state["MainPID"]
            continue
        well_since = well_since or seconds()
        if seconds() - well_since >= SECONDS_WELL:
            return ""
    return f"{unit} does not answer"


def answers(host: str, port: int) -> bool:
    """Whether the page says that readings come."""
    connection = http.client.HTTPConnection(host, port, timeout=3)
    try:
        connection.request("GET", "/healthz", headers={"Host": "localhost"})
        return connection.getresponse().status == 200
    except (OSError, http.client.HTTPException):
        return False
    finally:
        connection.close()


def shown(unit: str) -> dict[str, str]:
    """How systemd sees it."""
    names = ("ActiveState", "Result", "NRestarts", "MainPID")
    _, said = asked("systemctl", "show", "--property", ",".join(names), unit)
    found = dict(line.split("=", 1) for line in said.splitlines() if "=" in line)
    return {name: found.get(name, "") for name in names}


def runs(state: dict[str, str], version: str) -> bool:
    """Whether a unit's process is of this version: its environment's python is named first."""
    try:
        said = Path("/proc", state["MainPID"], "cmdline").read_bytes()
    except OSError:
        return False
    return f"/{version}/bin/".encode() in said


def systemctl(*words: str) -> None:
    """What it says is said again where it fails."""
    code, said = asked("systemctl", "--quiet", *words)
    if code != 0:
        say(f"systemctl {' '.join(words)}: {said}")
