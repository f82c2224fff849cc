"""The probes of a kiln by the name of their driver."""

import pytest

from spyhole.core.reading import ProbeReading
from spyhole.core.refusal import Refusal
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.junction import BenchJunction
from spyhole_hardware.probes import open_sensors

ONE = (Channel("middle", 6),)


def test_the_emulated_driver_is_one_like_any_other():
    probes, _ = open_sensors("emulated", ONE, None, mains_hertz=50, averaging=4, junctions=[BenchJunction(812.5, 31.0)])
    assert probes.read().probes == (ProbeReading(812.5, None, 31.0),)
    probes.close()


def test_an_unknown_driver_is_refused():
    with pytest.raises(Refusal, match=r"^driver: 'max31855' is not known; max31856 or emulated may stand here$"):
        open_sensors("max31855", ONE, None, mains_hertz=50, averaging=4)


def test_every_probe_needs_its_junction():
    with pytest.raises(ValueError, match="shorter"):
        open_sensors("emulated", ONE * 2, None, mains_hertz=50, averaging=4, junctions=[BenchJunction()])
