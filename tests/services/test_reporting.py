"""A report out of a real record, with what current transformers said in it."""

from typing import Any

import pytest

from spyhole.core.drawn import Drawn
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole.core.journal import Clock, Row
from spyhole.core.words import DEFAULT
from spyhole.services.archive import Batch, Firing, Minute, RingMinute, Step
from spyhole.services.desk import FiringSummary
from spyhole.services.reporting import Reporter
from spyhole.services.using import Use
from spyhole_hardware.emulated.puffin import BISQUE_05, KILN

HOUR, MINUTE = 3_600_000, 60_000
LIT = 1_951_155_600_000
OFF = LIT + 10 * HOUR
LINE = FiringSummary(2, "Bisque, cone 05", "05", LIT, OFF + 10 * HOUR, OFF, 1042.0, 1.02, 0)


def fired(record: Any, *amperes: float | None) -> Reporter:
    """Ten hours up in one stage, the currents written down each ten minutes as they are; none for no transformers."""
    told: list[tuple[int, object]] = [(0, Clock(LIT, True)), (1000, Entry(EntryKind.START, "", "05", "Ruth"))]
    if amperes:
        told += [(1000 + n * 10 * MINUTE, Drawn(amperes)) for n in range(60)]
    rows = [Row(KILN.name, n + 1, "first", at, what) for n, (at, what) in enumerate(told)]  # type: ignore[arg-type]
    minutes = tuple(
        Minute(
            KILN.name, 2, len(rows) + 1 + n, "first", n * MINUTE, "candling", 1080.0, (RingMinute(*[20.0 + n] * 3),) * 3
        )
        for n in range(600)
    )
    book = Firing(KILN.name, LINE, plan_to_toml(BISQUE_05, KILN), kiln_to_toml(KILN))
    record.put(Batch(steps=tuple(Step(row) for row in rows), minutes=minutes, firings=(book,), urgent=True))
    assert record.flush(20)
    return Reporter(record, KILN.name, DEFAULT, None, lambda *_: b"")


def test_energy_is_what_was_measured(record: Any) -> None:
    volts = KILN.mains_volts
    energy = fired(record, 2.0, 3.0, 0.0).work_out(2).energy
    assert energy.rings == pytest.approx([volts * 2.0 * 10 / 1000, volts * 3.0 * 10 / 1000, 0.0], rel=1e-3)
    assert energy.measured_share == pytest.approx(1.0, abs=1e-3), "but for the first second"


def test_a_kiln_without_transformers_goes_by_its_switches(record: Any) -> None:
    reporter = fired(record)
    energy = reporter.work_out(2).energy
    watts = [KILN.switch.of(s) * r.watts for s, r in zip(BISQUE_05.stages[0].switches, KILN.rings, strict=True)]
    assert energy.rings == pytest.approx([each * 10 / 1000 for each in watts], rel=1e-3)
    assert energy.measured_share == 0.0


def test_use_by_person_says_which_share_was_measured(record: Any) -> None:
    reporter = fired(record, 2.0, 3.0, None)
    view = Use(record, KILN.name, reporter.energy, lambda: OFF + 20 * HOUR).view(31)
    assert [line.who for line in view.people] == ["Ruth"]
    energy = reporter.energy(2)
    assert view.measured_share == pytest.approx(energy.measured_share)
    assert 0.0 < view.measured_share <= 1.0
