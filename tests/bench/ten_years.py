"""A record of ten years on Puffin: three firings a week, each minute of them kept, single readings of the last 61 days.

Invented, and only for measuring: what matters is how many rows there are and how they lie, not what they say.
"""

import math
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from dataclasses import dataclass
from pathlib import Path

from spyhole.app.codec import codec
from spyhole.core.care import Care
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.journal import Clock, Row, Settings
from spyhole.core.learned import Belief
from spyhole.core.measured import Lesson, Measured, Tripped, Witnessed
from spyhole.services import keeping as fold
from spyhole.store.database import DATABASE, writing_engine
from spyhole.store.encoding import CELSIUS_STEPS, COLD_JUNCTION_STEPS
from spyhole.store.migrate import bring_up_to_date
from spyhole.store.payload import journal_payload
from spyhole.store.tables import place
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

YEARS = 10
WEEK_SECONDS = 7 * 86_400
FIRST_HOURS = (0, 56, 112)
"""Into each week, its three firings are lit."""

LONG_HOURS = (24, 36, 36)
"""Each firing from lighting until the kiln is under 50 degC: a day for the quick one."""

RAW_DAYS = 61
BEGAN_UTC_MS = 1_635_000_000_000
BOOT = "ten-years"
KILN_ID = 1


@dataclass(frozen=True)
class Made:
    """What was made. quick_firing: one of 24 h in the middle of the ten years. now_utc_ms: after its last row."""

    firings: int
    minutes: int
    readings: int
    quick_firing: int
    now_utc_ms: int


def make(folder: Path) -> Made:
    """Fill a new record. One row a second has a sequence, so a sequence is a second since the beginning."""
    folder.mkdir()
    engine = writing_engine(folder)
    bring_up_to_date(engine, str(folder))
    engine.dispose()
    weeks = YEARS * 52
    last = weeks * WEEK_SECONDS
    starts = [
        (week * WEEK_SECONDS + hours * 3600 + 10, LONG_HOURS[which])
        for week in range(weeks)
        for which, hours in enumerate(FIRST_HOURS)
    ]
    with closing(sqlite3.connect(folder / DATABASE)) as connection:
        # Nobody minds if this one is lost half-way.
        connection.execute("PRAGMA synchronous=OFF")
        connection.execute("INSERT INTO kiln (id, name) VALUES (?, ?)", (KILN_ID, KILN.name))
        connection.execute("INSERT INTO boot VALUES (1, ?, ?, 1)", (BOOT, BEGAN_UTC_MS))
        minutes = _count(connection, "minute", _minutes(starts))
        readings = _count(connection, "reading", _readings(last))
        _count(connection, "journal", _journal(starts, last))
        _count(connection, "firing", _firings(starts))
        connection.execute("INSERT INTO checkpoint VALUES (?, ?, ?)", _checkpoint(last))
        connection.commit()
    middle = starts[len(starts) // 2 - len(starts) // 2 % 3][0]
    return Made(len(starts), minutes, readings, middle, BEGAN_UTC_MS + last * 1000)


def _count(connection: sqlite3.Connection, table: str, rows: Iterator[tuple[object, ...]]) -> int:
    first = next(rows)
    sql = f"INSERT INTO {table} VALUES ({', '.join('?' * len(first))})"
    connection.execute(sql, first)
    return 1 + connection.executemany(sql, rows).rowcount


def _celsius(hour: float, long_hours: int) -> float:
    """Up along a curve, and down as a kiln cools."""
    top = long_hours * 0.55
    return (
        20 + 1030 * (hour / top) ** 1.3 if hour < top else 20 + 1030 * math.exp((top - hour) / (long_hours - top) * 3.5)
    )


def _minutes(starts: list[tuple[int, int]]) -> Iterator[tuple[object, ...]]:
    shapes = {
        hours: [round(_celsius(minute / 60, hours) * CELSIUS_STEPS) for minute in range(hours * 60)]
        for hours in set(LONG_HOURS)
    }
    gone = (None,) * 15
    for number, (start, hours) in enumerate(starts):
        shift = number % 97
        for minute, steps in enumerate(shapes[hours]):
            low, mean, high = steps + shift - 90, steps + shift, steps + shift + 90
            rings = (low, mean, high, low + 400, mean + 400, high + 400, low - 300, mean - 300, high - 300)
            second = start + minute * 60 + 59
            yield (place(KILN_ID, second), 1, second * 1000, start, "high", 152_000, 3, *rings, *gone)


def _readings(last: int) -> Iterator[tuple[object, ...]]:
    cold = 25 * COLD_JUNCTION_STEPS
    none = (None,) * 5
    for second in range(last - RAW_DAYS * 86_400, last):
        steps = (second * 7919) % 150_000
        yield (
            place(KILN_ID, second), 1, second * 1000, 3, 0, steps, steps + 400, steps - 300, *none,
            cold, cold + 1, cold + 2, *none,
        )  # fmt: skip


def _journal(starts: list[tuple[int, int]], last: int) -> Iterator[tuple[object, ...]]:
    """The clock each ten minutes of ten years, and what a keeper writes down in a firing."""
    written = [
        Entry(EntryKind.SWITCH, ring.name, setting, "Ada")
        for setting in ("low", "medium", "high")
        for ring in KILN.rings
    ]
    told = {second: Clock(BEGAN_UTC_MS + second * 1000, True) for second in range(1, last, 600)}
    rows: dict[int, object] = dict(told)
    for start, _ in starts:
        rows[start] = Entry(EntryKind.START, "", "05", "Ada")
        rows |= {start + (n + 1) * 3700: entry for n, entry in enumerate(written)}
    rows |= _left_behind(starts)
    for second in sorted(rows):
        kind, payload = journal_payload(rows[second])  # type: ignore[arg-type]
        yield (place(KILN_ID, second), 1, second * 1000, kind, payload)


def _left_behind(starts: list[tuple[int, int]]) -> dict[int, object]:
    """What each firing says of its kiln: elements that age a little, cones that speak of one probe, a trip; and a
    new probe and new elements every second year."""
    rows: dict[int, object] = {}
    rings = len(KILN.rings)
    for number, (start, hours) in enumerate(starts):
        apart = tuple(
            Belief(0.014 * math.sin(number * (ring + 1.7)) - 0.0004 * number * ring, 0.03) for ring in range(rings)
        )
        rows[start + hours * 3600 - 20] = Measured(start, apart, Belief(6.4 + 0.05 * math.sin(number * 2.3), 0.1))
        said = tuple(Belief(2.0 + 2.5 * math.sin(number * 3.1 + ring), 2.5) for ring in range(rings))
        rows[start + hours * 3600 - 18] = Witnessed(start, said)
        late = Belief(6.0, 4.0)
        trip = Tripped(start, 6.0 + 4.0 * math.sin(number * 1.9), late, 4.8 + number % 3 / 10, number, Lesson.TAUGHT)
        rows[start + hours * 3600 - 16] = trip
        if number and number % 312 == 0:
            rows[start + 40] = Entry(EntryKind.MAINTENANCE, "", Care.ELEMENTS, "Ada")
            rows[start + 42] = Entry(EntryKind.MAINTENANCE, "", Care.PROBE, "Ada")
    return rows


def _firings(starts: list[tuple[int, int]]) -> Iterator[tuple[object, ...]]:
    plan, kiln = plan_to_toml(TONIGHT.plan, KILN), kiln_to_toml(KILN)
    for start, hours in starts:
        began = BEGAN_UTC_MS + start * 1000
        over = began + hours * 3_600_000
        yield (
            place(KILN_ID, start), TONIGHT.plan.name, "05", began, over, began + hours * 1_980_000, 1050.0, 1.04, 0,
            plan, kiln,
        )  # fmt: skip


def _checkpoint(last: int) -> tuple[int, int, bytes]:
    """Of a watch that has its kiln, at the end: a start has nothing to fold."""
    state = fold.begin()
    for second, told in (
        (last - 2, Clock(BEGAN_UTC_MS + (last - 2) * 1000, True)),
        (last - 1, Settings(KILN, TONIGHT.plan)),
    ):
        state, _ = fold.keep(state, Row(KILN.name, second, BOOT, second * 1000, told))
    return place(KILN_ID, last - 1), codec().version, codec().freeze(state)
