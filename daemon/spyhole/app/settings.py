"""The settings file of `spyhole watch`: read once, refused by file and key with what is allowed.

The page listens on loopback only and there is no key for it: whoever reaches the page may acknowledge alarms,
and access control comes with a later release. Until then, a phone reaches it through an SSH tunnel.
"""

import re
import tomllib
from dataclasses import dataclass, field
from pathlib import Path
from typing import TypeVar
from zoneinfo import ZoneInfo

from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.refusal import Refusal

DRIVERS = ("max31856", "emulated")
UNITS = ("degC", "degF")
AVERAGINGS = (1, 2, 4, 8, 16)
MAINS_HERTZ = (50, 60)
PORT = 8420

T = TypeVar("T")


@dataclass(frozen=True, slots=True)
class ProbeWire:
    """Where the amplifier of a ring's probe is wired. chip_select: a GPIO number of the header."""

    ring: str
    chip_select: int


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything `spyhole watch` is told. tell: a secret, never shown; "" means the log of this machine only."""

    kiln: Kiln
    plan: Plan
    data: Path
    driver: str
    mains_hertz: int
    wires: tuple[ProbeWire, ...] = ()
    averaging: int = 4
    sample_ms: int = 1000
    port: int = PORT
    zone: str = "UTC"
    unit: str = "degC"
    tell: str = field(default="", repr=False)


KEYS = (
    "kiln", "plan", "data", "driver", "mains_hertz", "averaging", "sample_seconds", "port", "zone", "unit", "tell", "probe",
)  # fmt: skip
PROBE_KEYS = ("ring", "chip_select")


def read_settings(path: Path) -> Settings:
    """The settings in this file with the kiln and plan files it names; Refusal for anything that is not allowed."""
    try:
        table = tomllib.loads(path.read_text(encoding="utf-8"))
    except OSError as error:
        raise Refusal(str(path), f"the settings cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise Refusal(str(path), "this is no text file", "the settings are TOML in UTF-8") from None
    except tomllib.TOMLDecodeError as error:
        # The message of tomllib quotes no values, so it cannot give the address away.
        raise Refusal(str(path), f"this is no TOML ({str(error)[:120]})") from None
    if not table:
        raise Refusal(str(path), "the file is empty", "kiln, plan, data, driver and mains_hertz must stand there")
    keys = _Keys(str(path), table)
    keys.only(KEYS)
    kiln = read_kiln(path.parent / keys.text("kiln"))
    plan = read_plan(path.parent / keys.text("plan"), kiln)
    driver = keys.choice("driver", DRIVERS)
    return Settings(
        kiln=kiln,
        plan=plan,
        data=path.parent / keys.text("data"),
        driver=driver,
        mains_hertz=keys.choice("mains_hertz", MAINS_HERTZ),
        wires=_wires(keys, kiln, driver),
        averaging=keys.choice("averaging", AVERAGINGS, 4),
        sample_ms=round(keys.number("sample_seconds", 1, 30, 1) * 1000),
        port=round(keys.number("port", 0, 65535, PORT, whole=True)),
        zone=keys.zone("zone", "UTC"),
        unit=keys.choice("unit", UNITS, "degC"),
        tell=keys.address("tell"),
    )


def read_kiln(path: Path) -> Kiln:
    """The kiln in this file; Refusal."""
    from spyhole.core.forms.kiln_toml import read_kiln as parse  # noqa: PLC0415

    return parse(_text_of(path, "kiln"), str(path))


def read_plan(path: Path, kiln: Kiln) -> Plan:
    """The plan in this file, for this kiln; Refusal."""
    from spyhole.core.forms.plan_toml import read_plan as parse  # noqa: PLC0415

    return parse(_text_of(path, "plan"), str(path), kiln)


def _text_of(path: Path, what: str) -> str:
    try:
        return path.read_text(encoding="utf-8")
    except OSError as error:
        raise Refusal(str(path), f"the {what} cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise Refusal(str(path), "this is no text file", f"a {what} is TOML in UTF-8") from None


def _wires(keys: "_Keys", kiln: Kiln, driver: str) -> tuple[ProbeWire, ...]:
    rings = tuple(kiln.rings[i].name for i in kiln.probe_rings)
    tables = keys.table.get("probe", [])
    if driver == "emulated":
        if tables:
            raise keys.refusal("probe", "an emulated kiln has no wires", 'leave it out, or set driver = "max31856"')
        return ()
    if not isinstance(tables, list) or not tables:
        raise keys.refusal("probe", "no amplifier is named", "one [[probe]] with ring and chip_select for each probe")
    wires: dict[str, ProbeWire] = {}
    for number, table in enumerate(tables, 1):
        wire = _Keys(keys.file, table if isinstance(table, dict) else {}, f"probe {number}: ")
        wire.only(PROBE_KEYS)
        ring = wire.choice("ring", rings)
        if ring in wires:
            raise wire.refusal("ring", f"{ring} is there twice", "one [[probe]] a ring")
        pin = round(wire.number("chip_select", 0, 27, whole=True))
        if pin in [other.chip_select for other in wires.values()]:
            raise wire.refusal("chip_select", f"GPIO {pin} is there twice", "one pin a probe")
        wires[ring] = ProbeWire(ring, pin)
    missing = [ring for ring in rings if ring not in wires]
    if missing:
        raise keys.refusal("probe", f"no amplifier is named for {', '.join(missing)}", "one [[probe]] for each probe")
    return tuple(wires[ring] for ring in rings)


class _Keys:
    """A TOML table with the file it is from."""

    def __init__(self, file: str, table: dict[str, object], prefix: str = "") -> None:
        self.file = file
        self.table = table
        self._prefix = prefix

    def refusal(self, key: str, problem: str, allowed: str = "") -> Refusal:
        return Refusal(f"{self.file}, {self._prefix}{key}", problem, allowed)

    def only(self, names: tuple[str, ...]) -> None:
        for key in self.table:
            if key not in names:
                raise self.refusal(key, "there is no such setting", f"there are {', '.join(names)}")

    def value(self, key: str, default: T | None) -> object:
        if key in self.table:
            return self.table[key]
        if default is None:
            raise self.refusal(key, "this setting is missing")
        return default

    def text(self, key: str) -> str:
        value = self.value(key, None)
        if not isinstance(value, str) or not value:
            raise self.refusal(key, f"{value!r} is no text", 'text in quotes, for example "puffin.toml"')
        return value

    def choice(self, key: str, choices: tuple[T, ...], default: T | None = None) -> T:
        value = self.value(key, default)
        for choice in choices:
            if value == choice and type(value) is type(choice):
                return choice
        raise self.refusal(key, f"{value!r} is not known", f"{' or '.join(map(str, choices))} may stand here")

    def number(
        self, key: str, least: float, most: float, default: float | None = None, *, whole: bool = False
    ) -> float:
        value = self.value(key, default)
        right = isinstance(value, int | float) and not isinstance(value, bool)
        if not right or not least <= value <= most or (whole and value != int(value)):  # type: ignore[operator, call-overload]
            what = "a whole number" if whole else "a number"
            raise self.refusal(key, f"{value!r} cannot be", f"{what} from {least:g} to {most:g} may stand here")
        return float(value)  # type: ignore[arg-type]

    def zone(self, key: str, default: str) -> str:
        value = self.value(key, default)
        try:
            return ZoneInfo(str(value)).key
        except (OSError, ValueError, KeyError):
            raise self.refusal(key, f"{value!r} is no time zone", "a name such as Europe/Dublin may stand here") from None

    def address(self, key: str) -> str:
        value = self.value(key, "")
        if not isinstance(value, str) or (value and not re.match(r"^[a-zA-Z0-9]+://\S+$", value)):
            # The value is a secret and is not shown.
            raise self.refusal(key, "this is no address that a message can be sent to", "one apprise URL may stand here")
        return value
