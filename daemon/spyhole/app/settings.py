"""The settings file of `spyhole watch`: read once, refused by file and key with what is allowed."""

import re
from dataclasses import dataclass, field
from enum import StrEnum
from ipaddress import IPv4Address
from pathlib import Path
from zoneinfo import ZoneInfo

from spyhole.app.cost_settings import read_cost
from spyhole.app.current_settings import read_currents
from spyhole.app.reach_settings import ReachSettings, read_reach
from spyhole.app.wiring import RoomSettings, read_room
from spyhole.core.forms.kiln_toml import kiln_from_toml
from spyhole.core.forms.plan_toml import plan_from_toml
from spyhole.core.forms.toml_fields import Fields, table_from_toml
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan
from spyhole.core.refusal import Refusal
from spyhole.core.report.tariff import Tariff
from spyhole.services.backups import KEEP, Keep
from spyhole_hardware.probes import CurrentWires

PORT = 8420
READINGS_DAYS = 60
LOOPBACK = "127.0.0.1"
EVERYWHERE = "0.0.0.0"  # noqa: S104  # asked for in the settings, never by default


class Driver(StrEnum):
    """What stands behind the probes."""

    MAX31856 = "max31856"
    EMULATED = "emulated"
    RECORDED = "recorded"

    @property
    def wired(self) -> bool:
        """Whether it is a kiln that can get hot."""
        return self is Driver.MAX31856


class Unit(StrEnum):
    """The unit of messages and of the log."""

    CELSIUS = "degC"
    FAHRENHEIT = "degF"


@dataclass(frozen=True, slots=True)
class ProbeWire:
    """Where the amplifier of a ring's probe is wired. chip_select: a GPIO number of the header."""

    ring: str
    chip_select: int


@dataclass(frozen=True, slots=True)
class Settings:
    """Everything `spyhole watch` is told. tell: a secret, never shown; "" means the log of this machine only.

    database: address of a database on a server, as secret; "" means a file in the data folder.
    """

    kiln: Kiln
    plan: Plan
    kiln_toml: str
    plan_toml: str
    data: Path
    driver: Driver
    mains_hertz: int
    averaging: int
    sample_ms: int
    port: int
    zone: str
    unit: Unit
    wires: tuple[ProbeWire, ...]
    tell: str = field(default="", repr=False)
    keep_readings_days: int = READINGS_DAYS
    keep_backups: Keep = KEEP
    database: str = field(default="", repr=False)
    reach: ReachSettings = field(default_factory=ReachSettings)
    room: RoomSettings = field(default_factory=RoomSettings)
    cost: Tariff | None = None
    readings: Path | None = None
    currents: CurrentWires | None = None
    listen: str = LOOPBACK


KEYS = (
    "kiln", "plan", "data", "driver", "mains_hertz", "averaging", "sample_seconds", "port", "listen", "zone", "unit",
    "tell", "keep_readings_days", "backups", "database", "page_address", "emergency_rule", "escalation", "mqtt",
    "heartbeat", "room", "cost", "probe", "current", "readings",
)  # fmt: skip
ADDRESS = re.compile(r"[a-zA-Z0-9]+://\S+")


def read_settings(path: Path) -> Settings:
    """The settings in this file with the kiln and plan files it names; Refusal for anything that is not allowed."""
    table = table_from_toml(text_of(path, "settings"), str(path))
    fields = Fields(table, str(path), "", KEYS)
    kiln_file = path.parent / _line(fields, table, "kiln", "puffin.toml")
    plan_file = path.parent / _line(fields, table, "plan", "bisque-06.toml")
    kiln_toml, plan_toml = text_of(kiln_file, "kiln"), text_of(plan_file, "plan")
    kiln = kiln_from_toml(kiln_toml, str(kiln_file))
    driver = fields.word("driver", Driver)
    wires = _wires(fields, kiln, driver)
    selects = tuple(wire.chip_select for wire in wires) if driver.wired else ()
    currents = read_currents(fields, kiln, selects)
    if currents is not None and driver is Driver.RECORDED:
        raise fields.refuse("current", "a log that is played draws nothing", "leave [current] out")
    if currents is not None and driver.wired:
        selects = (*selects, currents.chip_select)
    return Settings(
        kiln=kiln,
        plan=plan_from_toml(plan_toml, str(plan_file), kiln),
        kiln_toml=kiln_toml,
        plan_toml=plan_toml,
        data=path.parent / _line(fields, table, "data", "/var/lib/spyhole"),
        driver=driver,
        mains_hertz=_one_of(fields, "mains_hertz", (50, 60)),
        averaging=_one_of(fields, "averaging", (1, 2, 4, 8, 16), 4),
        sample_ms=round(fields.number_or("sample_seconds", 1.0, 1.0, 30.0, "seconds") * 1000),
        port=_whole(fields, "port", 0, 65535, PORT),
        listen=_listen(fields),
        zone=_zone(fields),
        unit=fields.word_or("unit", Unit, Unit.CELSIUS),
        tell=_address(fields, table.get("tell")),
        wires=wires,
        keep_readings_days=_whole(fields, "keep_readings_days", 2, 3650, READINGS_DAYS),
        keep_backups=_backups(fields),
        database=_database(fields),
        reach=read_reach(fields),
        cost=read_cost(fields),
        room=read_room(fields, selects),
        currents=currents,
        readings=_readings(fields, table, path, driver),
    )


def text_of(path: Path, what: str) -> str:
    """The text of this file; Refusal. what: the kind of file, for the message."""
    try:
        return path.read_text(encoding="utf-8-sig")
    except OSError as error:
        raise Refusal(str(path), f"the {what} file cannot be read ({error.strerror})") from None
    except UnicodeDecodeError:
        raise Refusal(str(path), "this is no text file", f"a {what} file is text in UTF-8") from None


def _line(fields: Fields, table: dict[str, object], key: str, example: str) -> str:
    """A path as written: any length, unlike a name."""
    value = table.get(key)
    if not isinstance(value, str) or not value.strip() or not value.isprintable():
        raise fields.refuse(key, "no path stands here", f"it is text in quotes, for example {example!r}")
    return value


def _whole(fields: Fields, key: str, low: int, high: int, default: int | None = None) -> int:
    return fields.whole(key, low, high) if default is None or fields.has(key) else default


def _one_of(fields: Fields, key: str, choices: tuple[int, ...], default: int | None = None) -> int:
    value = _whole(fields, key, 1, max(choices), default)
    if value not in choices:
        raise fields.refuse(key, f"it cannot be {value}", f"it is {', '.join(map(str, choices[:-1]))} or {choices[-1]}")
    return value


def _zone(fields: Fields) -> str:
    name = fields.text("zone", "Europe/Dublin") if fields.has("zone") else "UTC"
    try:
        return ZoneInfo(name).key
    except (OSError, ValueError, KeyError):
        raise fields.refuse("zone", f"{name!r} is no time zone", "for example Europe/Dublin") from None


def _listen(fields: Fields) -> str:
    if not fields.has("listen"):
        return LOOPBACK
    value = fields.text("listen", EVERYWHERE)
    try:
        return str(IPv4Address(value))
    except ValueError:
        allowed = f"{LOOPBACK} for this machine only, {EVERYWHERE} for the studio's network, or one address"
        raise fields.refuse("listen", f"{value!r} is no address", allowed) from None


def _address(fields: Fields, value: object) -> str:
    """The address is a secret: whatever is wrong with it, it is not shown."""
    if value is None:
        return ""
    if not isinstance(value, str) or not ADDRESS.fullmatch(value):
        raise fields.refuse("tell", "a message cannot be sent to what stands there", "it is one apprise URL, in quotes")
    return value


def _backups(fields: Fields) -> Keep:
    table = fields.table("backups", ("daily", "weekly"))
    return Keep(_whole(table, "daily", 1, 60, KEEP.daily), _whole(table, "weekly", 0, 520, KEEP.weekly))


def _database(fields: Fields) -> str:
    """As secret as `tell`: whether it can be read is for the store to say, which never shows it."""
    if not fields.has("database"):
        return ""
    table = fields.table("database", ("url",))
    address = table.raw("url", "it is the address of a PostgreSQL database, in quotes")
    if not isinstance(address, str) or not address:
        raise table.refuse("url", "this is no address", "it is the address of a PostgreSQL database, in quotes")
    return address


def _readings(fields: Fields, table: dict[str, object], path: Path, driver: "Driver") -> Path | None:
    if driver is Driver.RECORDED:
        return path.parent / _line(fields, table, "readings", "friday.csv")
    if fields.has("readings"):
        allowed = 'a readings file, in quotes, and only with driver = "recorded"'
        raise fields.refuse("readings", "a log is played by one driver only", allowed)
    return None


def _wires(fields: Fields, kiln: Kiln, driver: "Driver") -> tuple[ProbeWire, ...]:
    rings = [kiln.rings[i].name for i in kiln.probe_rings]
    tables = fields.tables("probe", ("ring", "chip_select"), len(rings))
    if not driver.wired:
        if tables:
            raise fields.refuse("probe", "an emulated kiln and a log have no wires", "leave [[probe]] out")
        return tuple(ProbeWire(ring, number) for number, ring in enumerate(rings))
    wires: dict[str, ProbeWire] = {}
    for table in tables:
        ring = table.text("ring", rings[0])
        if ring not in rings:
            raise table.refuse("ring", f"no ring with a probe is called {ring!r}", f"there are {', '.join(rings)}")
        if ring in wires:
            raise table.refuse("ring", f"{ring!r} is there twice", "one [[probe]] for each ring that has one")
        pin = _whole(table, "chip_select", 0, 27)
        if any(pin == wire.chip_select for wire in wires.values()):
            raise table.refuse("chip_select", f"GPIO {pin} is there twice", "each amplifier has a pin of its own")
        wires[ring] = ProbeWire(ring, pin)
    missing = [ring for ring in rings if ring not in wires]
    if missing:
        raise fields.refuse(
            "probe", f"no amplifier is named for {', '.join(missing)}", "one [[probe]] with ring and chip_select each"
        )
    return tuple(wires[ring] for ring in rings)
