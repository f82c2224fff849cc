"""Makes what the handbook says of alarms, conditions, settings and commands from the code.

python tests/docs/tables.py writes it between the marks of the handbook's pages; test_handbook.py holds them to it.
"""

import argparse
import re
from dataclasses import replace
from pathlib import Path
from tempfile import TemporaryDirectory

from spyhole.app import commands as command_line
from spyhole.app.settings import KEYS, Settings, read_settings
from spyhole.core.alarms.catalogue import CATALOGUE, Declaration
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.forms.toml_fields import toml_lines
from spyhole.core.outcome import Priority
from spyhole.core.refusal import Refusal
from spyhole.core.words import alarm_title
from spyhole.services.conditions import ALL, JOURNALED
from spyhole.store import troubles
from spyhole_hardware.emulated.puffin import BISQUE_04, KILN

ROOT = Path(__file__).parents[2]
HANDBOOK = ROOT / "web/spyhole_web/handbook"
EXAMPLE = ROOT / "systemd" / "spyhole.example.toml"


RAISED_BY = {
    "shutoff-overdue": "shutoff-jams",
    "guard-cone": "shutoff-jams",
    "ring-behind": "ring-dies",
    "damp-hurry": "night-switch-high",
    "probe-open": "probe-open",
    "probe-out": "probe-pulled-out",
    "heat-lost": "power-cut",
    "power-back": "power-cut",
}
"""Alarm and the trouble of a rehearsal that raises it (tests/scenarios/test_002_troubles.py)."""


def alarms() -> str:
    """Every alarm as it is declared, the most urgent first."""
    most = sorted(CATALOGUE.values(), key=lambda declared: list(Priority).index(declared.priority))
    return "\n\n".join(_alarm(declared) for declared in most)


def _alarm(declared: Declaration) -> str:
    priority = f"**{str(declared.priority).capitalize()}.**"
    if declared.candling is not None:
        priority += f" {str(declared.candling).capitalize()} while candling."
    if declared.latched:
        priority += " Stays until somebody puts it back, once it is over and acknowledged."
    trouble = RAISED_BY.get(declared.tag)
    rehearsed = f"\n- To see it: `spyhole rehearse --fresh --trouble {trouble}`" if trouble is not None else ""
    lasts = "at once" if declared.on_delay_seconds == 0 else f"once it has lasted {_span(declared.on_delay_seconds)}"
    return (
        f"## {declared.tag}\n\n*{alarm_title(declared.tag, None)}.* {priority} {declared.first}\n\n"
        f"- Mostly: {_after_colon(declared.cause)}\n"
        f"- If nobody acts: {_after_colon(declared.consequence)}\n"
        f"- Time to act: {declared.respond_minutes} minutes. Told {lasts}; acknowledged and still so, told again after "
        f"{declared.again_minutes} minutes.{rehearsed}"
    )


def _after_colon(words: str) -> str:
    return words if words.startswith("spyhole") else words[0].lower() + words[1:]


def _span(seconds: int) -> str:
    return f"{seconds} seconds" if seconds < 120 else f"{seconds // 60} minutes"


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
    "listen": "0.0.0.0",
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
    "emergency_rule": "messages say to follow the studio's rule",
    "escalation": "high [3, 6, 10], medium [20, 45, 60]",
    "mqtt": "no broker",
    "heartbeat": "none",
    "cost": "reports say kWh and no money",
    "readings": "refused, with `recorded` alone",
    "current": "kWh are reckoned from switches and ratings",
}

WRONG: dict[str, str | float] = {
    "driver": "guesswork", "mains_hertz": 55, "averaging": 3, "sample_seconds": 1e9, "port": 1e9, "listen": "kiln",
    "zone": "nowhere", "unit": "degX", "keep_readings_days": 1,
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
    record = {one.words: one for one in vars(troubles).values() if isinstance(one, troubles.Trouble)}
    return "\n".join(
        f"- **{one.code}**{' (an alarm too)' if one.code in JOURNALED else ''}: {one.words}"
        for one in (*ALL, *record.values())
    )


def files() -> str:
    """The three files beside each other as they are given with spyhole, remarks and all."""
    return "\n\n".join(
        f"### {words}\n\n```toml\n{(EXAMPLE.parent / name).read_text().strip()}\n```"
        for words, name in (
            ("spyhole.toml, the settings", EXAMPLE.name),
            ("puffin.toml, the kiln", "puffin.toml"),
            ("bisque-06.toml, the plan", "bisque-06.toml"),
        )
    )


STATE = "~/.local/state/spyhole/rehearsal"
"""Where a rehearsal is kept, whoever makes these pages."""


def commands() -> str:
    """Every command with its words, its example and its options."""
    return "\n\n".join(_command(name, parser) for name, parser in _subcommands(command_line._parser()).items())


def _subcommands(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    made = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    return dict(made[0].choices) if made else {}


def _command(name: str, parser: argparse.ArgumentParser) -> str:
    example = re.search(r"^ {2}(spyhole .*)$", parser.epilog or "", re.MULTILINE)
    lines = [f"## spyhole {name}", "", parser.description or "", ""]
    if example is not None:
        lines += [f"    {example[1]}", ""]
    lines += [
        f"- `{' '.join(action.option_strings[:1]) or action.metavar or action.dest}`: "
        f"{parser._get_formatter()._expand_help(action).replace(str(command_line._state_folder()), STATE)}"
        for action in parser._actions
        if action.help not in (None, argparse.SUPPRESS) and "--help" not in action.option_strings
    ]
    for act, inner in _subcommands(parser).items():
        help_words = next(
            (choice.help for group in parser._actions if isinstance(group, argparse._SubParsersAction)
             for choice in group._choices_actions if choice.dest == act), "",
        )  # fmt: skip
        given = [action.option_strings[0] if action.option_strings else str(action.metavar or action.dest)
                 for action in inner._actions if "--help" not in action.option_strings]  # fmt: skip
        lines.append(f"- `{' '.join([act, *given])}`: {help_words}")
    return "\n".join(lines).rstrip()


TABLES = {
    "alarms": alarms,
    "conditions": conditions,
    "settings": settings,
    "commands": commands,
    "files": files,
}
"""Each is between its marks on the page of the handbook that has its name, or on that of `PAGE_OF`."""

PAGE_OF = {"files": "settings"}


def table(head: tuple[str, ...], rows: list[tuple[str, ...]]) -> str:
    """A table in Markdown."""
    return "\n".join(f"| {' | '.join(row)} |" for row in (head, ("---",) * len(head), *rows))


def place(name: str) -> re.Pattern[str]:
    """Where this table stands in its page."""
    return re.compile(rf"(<!-- {name}: begin -->\n)(.*?)(<!-- {name}: end -->)", re.DOTALL)


def written(name: str, text: str) -> str:
    """The page with its table made afresh."""
    made = f"\n{TABLES[name]()}\n\n"
    text, found = place(name).subn(lambda mark: f"{mark[1]}{made}{mark[3]}", text)
    if found != 1:
        raise ValueError(f"the marks of the table {name} stand {found} times on their page")
    return text


if __name__ == "__main__":
    for name in TABLES:
        page = HANDBOOK / f"{PAGE_OF.get(name, name)}.md"
        page.write_text(written(name, page.read_text()))
