"""Makes the tables of DEVELOPERS.md from the code, between their marks: python tests/docs/tables.py

test_developers.py holds the document to what this makes.
"""

import re
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from spyhole.app.settings import KEYS, Settings, read_settings
from spyhole.core.alarms.catalogue import CATALOGUE, Declaration
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.forms.toml_fields import toml_lines
from spyhole.core.refusal import Refusal
from spyhole.services.conditions import ALL, JOURNALED
from spyhole.store import troubles
from spyhole_hardware.emulated.puffin import BISQUE_04, KILN

ROOT = Path(__file__).parents[2]
DEVELOPERS = ROOT / "DEVELOPERS.md"
EXAMPLE = ROOT / "systemd" / "spyhole.example.toml"


def alarms() -> str:
    """Every alarm as it is declared."""
    head = (
        "alarm", "priority", "cause", "consequence", "first action", "minutes to respond",
        "seconds on, off", "again after minutes",
    )  # fmt: skip
    return table(head, [_alarm(declared) for declared in CATALOGUE.values()])


def _alarm(declared: Declaration) -> tuple[str, ...]:
    priority = str(declared.priority)
    if declared.candling is not None:
        priority += f"; {declared.candling} while candling"
    if declared.latched:
        priority += "; stays until reset"
    return (
        f"`{declared.tag}`",
        priority,
        declared.cause,
        declared.consequence,
        declared.first,
        str(declared.respond_minutes),
        f"{declared.on_delay_seconds}, {declared.off_delay_seconds}",
        str(declared.again_minutes),
    )


def settings() -> str:
    """Every setting: the sentence of the example file, the default, and what the reader says when it refuses."""
    head = ("setting", "what it is", "when missing", "what may stand there")
    return table(head, [(f"`{key}`", _sentence(key), _default(key), _allowed(key)) for key in KEYS])


FULL: dict[str, str | float] = {
    "kiln": "puffin.toml",
    "plan": "plan.toml",
    "data": "data",
    "driver": "emulated",
    "mains_hertz": 50,
    "averaging": 16,
    "sample_seconds": 30,
    "port": 1,
    "zone": "Europe/Dublin",
    "unit": "degF",
    "tell": "json://localhost/kiln",
    "keep_readings_days": 90,
}
"""Each key with something that may stand there and is no default. [[probe]] is wanted by real amplifiers only, and
those of `ABSENT` are not needed for the others."""

ABSENT = {
    "backups": "daily 7, weekly 8",
    "database": "a file in the data folder",
    "page_address": "messages carry no link",
    "escalation": "high [3, 6, 10], medium [20, 45, 60]",
    "mqtt": "no broker",
    "heartbeat": "none",
    "cost": "reports say kWh and no money",
}

WRONG: dict[str, str | float] = {
    "driver": "guesswork", "mains_hertz": 55, "averaging": 3, "sample_seconds": 1e9, "port": 1e9, "zone": "nowhere",
    "unit": "degX", "keep_readings_days": 1,
}  # fmt: skip
"""What may not stand there; 5 for the others."""


def _read(values: dict[str, str | float]) -> Settings:
    with TemporaryDirectory() as folder:
        home = Path(folder)
        (home / "puffin.toml").write_text(kiln_to_toml(KILN))
        (home / "plan.toml").write_text(plan_to_toml(BISQUE_04, KILN))
        (home / "spyhole.toml").write_text("\n".join(toml_lines(values)))
        found = read_settings(home / "spyhole.toml")
        return replace(found, data=found.data.relative_to(home))


def _refused(values: dict[str, str | float]) -> Refusal | None:
    try:
        _read(values)
    except Refusal as refusal:
        return refusal
    return None


def _default(key: str) -> str:
    if key == "probe":
        return "refused, but for an emulated kiln"
    if key in ABSENT:
        return ABSENT[key]
    if key == "room":
        return "nothing is wired"
    without = {name: value for name, value in FULL.items() if name != key}
    if _refused(without) is not None:
        return "refused"
    found = _read(without)
    value = found.sample_ms / 1000 if key == "sample_seconds" else getattr(found, key)
    return "nowhere else" if value == "" else f"{value:g}" if isinstance(value, float) else str(value)


def _allowed(key: str) -> str:
    refusal = _refused(FULL | ({"driver": "max31856"} if key == "probe" else {key: WRONG.get(key, 5)}))
    assert refusal is not None, f"{key} takes what it should not"
    return refusal.allowed.removeprefix("it is ")


def _sentence(key: str) -> str:
    """The first sentence of the comment above the key in the example file."""
    comment: list[str] = []
    for line in EXAMPLE.read_text().splitlines():
        if re.match(rf"(# )?({key} = |\[\[?{key}]]?)", line):
            return re.split(r"(?<=\.)\s", " ".join(comment))[0]
        if not line:
            comment = []
        elif line.startswith("#"):
            comment.append(line.removeprefix("#").strip())
    raise ValueError(f"{EXAMPLE.name} says nothing of {key}")


def conditions() -> str:
    """What ails the watch itself, as it is said; the record says its own."""
    head = ("condition", "what it says", "an alarm too")
    record = {one.words: one for one in vars(troubles).values() if isinstance(one, troubles.Trouble)}
    rows = [(f"`{one.code}`", one.words, "yes" if one.code in JOURNALED else "no") for one in (*ALL, *record.values())]
    return table(head, rows)


TABLES = {"alarms": alarms, "conditions": conditions, "settings": settings}


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """A table in Markdown."""
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *rows))


def place(name: str) -> re.Pattern[str]:
    """Where this table stands in the document."""
    return re.compile(rf"(<!-- {name}: begin -->\n)(.*?)(<!-- {name}: end -->)", re.DOTALL)


def written(text: str) -> str:
    """The document with its tables made afresh."""
    for name, make in TABLES.items():
        made = f"\n{make()}\n\n"
        text, found = place(name).subn(lambda mark, made=made: f"{mark[1]}{made}{mark[3]}", text)
        if found != 1:
            raise ValueError(f"the marks of the table {name} stand {found} times in {DEVELOPERS.name}")
    return text


if __name__ == "__main__":
    DEVELOPERS.write_text(written(DEVELOPERS.read_text()))
