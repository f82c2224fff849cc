"""A whole daemon on Puffin with current transformers: what the rings draw reaches the record, and judges nothing."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from spyhole.core.drawn import Drawn, worth_a_row
from spyhole.core.kiln import Switch
from spyhole.store.archive import open_records
from spyhole_hardware.emulated.puffin import KILN
from spyhole_hardware.mcp3208 import Clamp
from spyhole_hardware.probes import CurrentWires

WIRES = CurrentWires(8, (Clamp(0, 0, 30.0), Clamp(2, 3, 30.0)), 3)
LIT_FOR_MS = 30 * 60_000


def fire(puffin: Callable[..., Any], currents: CurrentWires | None) -> None:
    kiln = puffin(currents=currents).start()
    kiln.until(lambda: kiln.daemon.watchkeeper.state.firing is not None)
    began = kiln.rehearsal.now().monotonic_ms
    kiln.until(lambda: kiln.rehearsal.now().monotonic_ms > began + LIT_FOR_MS)
    kiln.stop()


def drawn(folder: Path) -> list[tuple[int, Drawn]]:
    with open_records(folder) as records:
        (firing,) = records.firings("Puffin")
        found = records.drawn("Puffin", firing.id)
        assert [utc_ms for utc_ms, _ in found] == sorted(utc_ms for utc_ms, _ in found)
        assert all(firing.started_utc_ms <= utc_ms for utc_ms, _ in found)
    return found


def test_a_night_on_the_bottom_rings_low_is_written_down_as_what_it_draws(
    puffin: Callable[..., Any], tmp_path: Path
) -> None:
    fire(puffin, WIRES)
    rows = drawn(tmp_path)
    bottom, middle, top = rows[-1][1].amperes
    expected = KILN.rings[0].watts * KILN.switch.of(Switch.LOW) / KILN.mains_volts
    assert bottom == pytest.approx(expected, rel=0.06), "the mains are not the plate's"
    assert middle is None, "it has no clamp"
    assert top == 0.0
    assert len(rows) >= 2
    for (before_ms, before), (now_ms, now) in pairwise(rows):
        assert worth_a_row(before, before_ms, now, now_ms), "a row holds for ten minutes where nothing changes"


def test_a_kiln_without_them_has_no_such_row(puffin: Callable[..., Any], tmp_path: Path) -> None:
    fire(puffin, None)
    assert drawn(tmp_path) == []
