"""A kiln described anew between two starts, with other probes than it had: the watch goes on with what it has now."""

from dataclasses import replace

from spyhole.core import watch
from spyhole.core.journal import Clock, Row, Settings, Told
from spyhole.core.reading import ProbeReading, Reading
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

ONE_PROBE = replace(
    KILN, rings=tuple(ring if ring.name == "middle" else replace(ring, probe=None) for ring in KILN.rings)
)


def test_a_bin_half_filled_by_other_probes_loses_no_reading() -> None:
    state = watch.begin()
    sequence = 0

    def tell(told: Told, at_ms: int) -> None:
        nonlocal state, sequence
        sequence += 1
        state, _ = watch.step(state, Row("Puffin", sequence, "boot", at_ms, told))

    tell(Clock(1_951_155_660_000, synchronised=True), 0)
    tell(Settings(KILN, TONIGHT.plan), 0)
    for second in range(20, 27):
        tell(Reading((ProbeReading(20.0),) * 3), second * 1000)
    tell(Settings(ONE_PROBE, TONIGHT.plan), 27_000)
    for second in range(28, 60):
        tell(Reading((ProbeReading(21.0),)), second * 1000)
    assert [track.celsius for track in state.tracks] == [21.0]
