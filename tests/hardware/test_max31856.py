"""The reader, through the real driver, on emulated chips: every defect the driver alone would pass on."""

import threading

import adafruit_max31856
import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.reading import Fault, ProbeReading
from spyhole_hardware import registers as reg
from spyhole_hardware.bus import Channel
from spyhole_hardware.emulated.chip import DataLine, EmulatedChip
from spyhole_hardware.emulated.junction import Circuit

TROUBLED = 1  # the middle channel; the others must not notice


def driver_on(bench, channel: int = TROUBLED) -> adafruit_max31856.MAX31856:
    return adafruit_max31856.MAX31856(bench.bus, bench.bus.selects[channel])


def number(bench, channel: int) -> ProbeReading:
    junction = bench.junctions[channel]
    return ProbeReading(junction.hot_celsius, None, junction.cold_celsius)


def assert_only_the_troubled_one(bench, fault: Fault) -> ProbeReading:
    before = bench.clock.seconds()
    probes = bench.read().probes
    assert bench.clock.seconds() - before <= bench.probes.longest_seconds + 0.005
    assert probes[TROUBLED].fault is fault
    assert probes[TROUBLED].celsius is None
    assert probes[0] == number(bench, 0)
    assert probes[2] == number(bench, 2)
    return probes[TROUBLED]


def assert_all_well(bench) -> None:
    assert bench.read().probes == tuple(number(bench, i) for i in range(len(bench.junctions)))


# What a sound bus gives


def test_both_temperatures_come_from_one_conversion(bench):
    assert_all_well(bench)


@given(
    letter=st.sampled_from(sorted(reg.TYPE_CODES)),
    share=st.floats(0, 1),
    cold=st.integers(0, 85 * 64).map(lambda code: code / 64),
    hertz=st.sampled_from([50, 60]),
    averaging=st.sampled_from(sorted(reg.AVERAGING_CODES)),
)
def test_every_temperature_in_range_comes_through_to_the_chip_step(bench_of, letter, share, cold, hertz, averaging):
    bench = bench_of(channels=(Channel("only", 5, letter),), mains_hertz=hertz, averaging=averaging)
    low, high = reg.RANGE_CELSIUS[letter]
    bench.junctions[0].hot_celsius = round((low + share * (high - low)) * 128) / 128
    bench.junctions[0].cold_celsius = cold
    assert_all_well(bench)


def test_three_channels_convert_at_once(bench):
    before = bench.clock.seconds()
    bench.read()
    assert bench.clock.seconds() - before == pytest.approx(0.290, abs=0.002)  # one after the other: 0.87


def test_a_slow_chip_is_waited_for_and_still_fits_the_tick(bench, monkeypatch):
    monkeypatch.setitem(reg._ONE_SHOT_SECONDS, 50, reg._ONE_SHOT_LONGEST_SECONDS[50])
    assert_all_well(bench)
    assert bench.probes.longest_seconds < 1


def test_the_thermocouple_of_every_channel_is_its_own(bench_of):
    channels = (Channel("bottom", 5, "K"), Channel("middle", 6, "S"), Channel("top", 7, "N"))
    assert_all_well(bench_of(channels=channels))


@pytest.mark.parametrize("hertz", [50, 60])
@pytest.mark.parametrize("rings", range(1, 9))
def test_one_to_eight_amplifiers_of_any_wire_share_a_bus_and_a_tick(bench_of, rings, hertz):
    channels = tuple(Channel(f"ring {n}", 5 + n, letter) for n, letter in zip(range(rings), "KNRSBJET", strict=False))
    bench = bench_of(channels=channels, mains_hertz=hertz)
    for junction in bench.junctions:  # type T ends at 400 degC, type J where a glaze firing begins
        junction.hot_celsius = min(junction.hot_celsius, 300.0 if junction.type == "T" else 900.0)
    before = bench.clock.seconds()
    assert_all_well(bench)
    assert bench.clock.seconds() - before < 1.0
    assert [reg.TYPE_CODES[channel.type] for channel in channels] == [
        chip.registers[reg.CR1] & 0x0F for chip in bench.bus.chips
    ]


@pytest.mark.parametrize(
    ("channels", "hertz", "averaging", "sentence"),
    [
        ((Channel("top", 5, "X"),), 50, 4, "the top probe is of type 'X'; the amplifier knows B, E, J, K, N, R, S, T"),
        ((Channel("top", 5),), 55, 4, "55 Hz mains is not known to the amplifier; 50 or 60 is"),
        ((Channel("top", 5),), 50, 3, "the amplifier cannot average 3 samples; 1, 2, 4, 8 or 16 it can"),
    ],
)
def test_a_setting_the_chip_does_not_have_is_refused(bench_of, channels, hertz, averaging, sentence):
    with pytest.raises(ValueError, match="^" + sentence.replace("'", ".") + "$"):
        bench_of(channels=channels, mains_hertz=hertz, averaging=averaging)


# A bus that is stuck, broken or full of noise


def test_a_bus_stuck_low_is_no_healthy_zero(bench, caplog):
    bench.bus.chips[TROUBLED].line = DataLine.STUCK_LOW
    assert_only_the_troubled_one(bench, Fault.BUS)
    assert caplog.messages == ["the amplifier of the middle probe did not start"]
    driver = driver_on(bench)
    assert driver.temperature == 0.0  # what the driver alone says
    assert not any(driver.fault.values())


def test_a_bus_stuck_high_does_not_hang(bench, monkeypatch, caplog):
    bench.bus.chips[TROUBLED].line = DataLine.STUCK_HIGH
    assert_only_the_troubled_one(bench, Fault.BUS)
    assert caplog.messages == ["the amplifier of the middle probe is silent: its line is stuck at 0xFF"]
    assert_the_driver_alone_waits_for_ever(bench, monkeypatch)


def test_a_line_that_drops_in_mid_conversion_is_no_healthy_zero(bench, caplog):
    bench.during_wait.append(lambda: setattr(bench.bus.chips[TROUBLED], "line", DataLine.STUCK_LOW))
    assert_only_the_troubled_one(bench, Fault.BUS)
    assert caplog.messages == ["the amplifier of the middle probe is silent: its line is stuck at 0x00"]


def test_garbage_is_no_temperature(bench):
    for _ in range(200):
        bench.bus.chips[TROUBLED].line = DataLine.GARBAGE
        probes = bench.read().probes
        assert probes[TROUBLED].celsius is None
        assert probes[0] == number(bench, 0)
    bench.bus.chips[TROUBLED].line = DataLine.SOUND
    bench.read()
    assert_all_well(bench)


def test_a_conversion_that_never_ends_is_given_up_at_the_deadline(bench, monkeypatch):
    bench.bus.chips[TROUBLED].converts = False
    assert_only_the_troubled_one(bench, Fault.BUS)
    assert not bench.bus.chips[TROUBLED].registers[reg.CR0] & reg.ONE_SHOT  # idle for the next tick
    assert_the_driver_alone_waits_for_ever(bench, monkeypatch)
    bench.bus.chips[TROUBLED].converts = True
    assert_all_well(bench)


def test_all_channels_dead_take_one_deadline_between_them(bench):
    for chip in bench.bus.chips:
        chip.converts = False
    before = bench.clock.seconds()
    assert [probe.fault for probe in bench.read().probes] == [Fault.BUS] * 3
    assert bench.clock.seconds() - before <= bench.probes.longest_seconds + 0.005


def test_a_chip_that_does_not_hear_does_not_pass_off_its_old_number(bench):
    bench.read()
    bench.bus.chips[TROUBLED].deaf = True
    bench.junctions[TROUBLED].hot_celsius = 950.0
    assert_only_the_troubled_one(bench, Fault.BUS)


def test_a_device_file_that_fails_is_a_fault_of_every_probe(bench, caplog):
    bench.bus.broken = True
    for _ in range(3):
        assert [probe.fault for probe in bench.read().probes] == [Fault.BUS] * 3
    assert [record.getMessage() for record in caplog.records] == [
        f"the amplifier of the {ring} probe did not start: [Errno 5] Input/output error"
        for ring in ("bottom", "middle", "top")
    ]
    bench.bus.broken = False
    assert_all_well(bench)


def test_a_device_file_that_fails_in_mid_conversion_is_a_fault_of_every_probe(bench):
    bench.during_wait.append(lambda: setattr(bench.bus, "broken", True))
    assert [probe.fault for probe in bench.read().probes] == [Fault.BUS] * 3
    bench.bus.broken = False
    assert_all_well(bench)


def test_a_bus_that_is_broken_at_the_start_is_set_up_when_it_comes_back(bench_of):
    bench = bench_of(prepare=lambda bus: setattr(bus, "broken", True))
    assert [probe.fault for probe in bench.read().probes] == [Fault.BUS] * 3
    bench.bus.broken = False
    assert_all_well(bench)


def test_a_clock_that_stands_still_does_not_hang_the_reader(bench):
    bench.clock.wait = lambda seconds: None
    assert [probe.fault for probe in bench.read().probes] == [Fault.BUS] * 3


def assert_the_driver_alone_waits_for_ever(bench, monkeypatch) -> None:
    class Patience(Exception):
        pass

    waited = 0.0

    def sleep(seconds: float) -> None:
        nonlocal waited
        waited += seconds
        bench.clock.wait(seconds)
        if waited > 60:
            raise Patience

    monkeypatch.setattr(adafruit_max31856, "sleep", sleep)
    with pytest.raises(Patience):
        _ = driver_on(bench).temperature


# One wrong bit


class GlitchingChip(EmulatedChip):
    """One bit of one answer, or of one thing written to it, arrives wrong."""

    spoilt_read = spoilt_write = 0
    bit = 0
    reads = writes = 0

    def read(self, count: int) -> bytes:
        self.reads += 1
        answer = super().read(count)
        return self._flip(answer) if self.reads == self.spoilt_read else answer

    def write(self, data: bytes) -> None:
        self.writes += 1
        super().write(self._flip(data) if self.writes == self.spoilt_write else data)

    def _flip(self, data: bytes) -> bytes:
        size = 8 * len(data)
        return (int.from_bytes(data) ^ 1 << self.bit % size).to_bytes(len(data))


@pytest.mark.parametrize("spoilt", [1, 2, 3])
def test_a_wrong_bit_in_an_answer_changes_neither_the_number_nor_the_settings(bench_of, spoilt):
    bench = bench_of(chip=GlitchingChip)
    assert_all_well(bench)
    chip = bench.bus.chips[TROUBLED]
    settings = chip.registers[: reg.CJTH]
    for bit in range(8 * reg.REGISTER_COUNT):
        chip.reads, chip.spoilt_read, chip.bit = 0, spoilt, bit
        assert_all_well(bench)
        assert chip.registers[: reg.CJTH] == settings


@pytest.mark.parametrize("spoilt", [1, 2, 3, 4])
def test_a_wrong_bit_in_what_is_written_never_becomes_a_number(bench_of, spoilt):
    bench = bench_of(chip=GlitchingChip)
    chip = bench.bus.chips[TROUBLED]
    for bit in range(16):
        chip.writes, chip.spoilt_write, chip.bit = 0, spoilt, bit
        probe = bench.read().probes[TROUBLED]
        assert probe == number(bench, TROUBLED) or probe.fault in {Fault.CONFIG, Fault.BUS}
        bench.read()
        assert_all_well(bench)


def test_the_driver_alone_writes_a_corrupted_read_back(bench_of):
    bench = bench_of(chip=GlitchingChip)
    driver = driver_on(bench)
    chip = bench.bus.chips[TROUBLED]
    chip.reads, chip.spoilt_read, chip.bit = 0, 1, 3
    driver.initiate_one_shot_measurement()
    assert chip.registers[reg.CR0] & reg.COLD_JUNCTION_DISABLED


# A chip that has forgotten itself


def forget(bench) -> None:
    bench.bus.chips[TROUBLED].forget()


def test_a_brown_out_between_ticks_is_noticed_and_mended(bench):
    forget(bench)
    assert_only_the_troubled_one(bench, Fault.CONFIG)
    assert_all_well(bench)


def test_a_brown_out_in_mid_conversion_is_noticed_and_mended(bench):
    bench.during_wait.append(lambda: forget(bench))
    assert_only_the_troubled_one(bench, Fault.CONFIG)
    assert_all_well(bench)


def test_a_brown_out_is_noticed_where_the_chip_wakes_with_our_very_settings(bench_of):
    """Type K, 60 Hz, no averaging is what it wakes with."""
    bench = bench_of(mains_hertz=60, averaging=1)
    forget(bench)
    assert_only_the_troubled_one(bench, Fault.CONFIG)
    assert_all_well(bench)


def test_a_forgetful_type_s_amplifier_does_not_read_314_at_1200(bench_of):
    bench = bench_of(channels=tuple(Channel(ring, i, "S") for i, ring in enumerate(("bottom", "middle", "top"), 5)))
    bench.junctions[TROUBLED].hot_celsius = 1200.0
    bench.junctions[TROUBLED].cold_celsius = 25.0
    assert_all_well(bench)
    forget(bench)
    assert_only_the_troubled_one(bench, Fault.CONFIG)
    assert_all_well(bench)


@given(address=st.integers(0, reg.CJTO), flipped=st.integers(1, 255))
def test_no_setting_may_drift_unseen(bench_of, address, flipped):
    """A bit of the cold junction's offset, say, would shift every number by degrees."""
    bench = bench_of()
    settings = bench.bus.chips[TROUBLED].registers
    drifted = settings[address] ^ flipped
    bench.during_wait.append(lambda: _poke(bench, address, drifted))
    assert bench.read().probes[TROUBLED].celsius in {None, number(bench, TROUBLED).celsius}
    assert bench.bus.chips[TROUBLED].registers[: reg.CJTH] == settings[: reg.CJTH]


def _poke(bench, address: int, value: int) -> None:
    select = bench.bus.selects[TROUBLED]
    select.value = False
    bench.bus.write(bytes([address | reg.WRITE, value]))
    select.value = True


def test_an_amplifier_unplugged_and_plugged_in_again_is_set_up_again(bench):
    chip = bench.bus.chips[TROUBLED]
    chip.line, chip.deaf = DataLine.STUCK_LOW, True
    assert_only_the_troubled_one(bench, Fault.BUS)
    chip.line, chip.deaf = DataLine.SOUND, False
    chip.forget()
    assert_only_the_troubled_one(bench, Fault.CONFIG)
    assert_all_well(bench)


def test_a_chip_that_cannot_be_set_up_again_is_a_fault_of_the_bus(bench):
    """It forgets, and what is written to it is lost."""

    def brown_out() -> None:
        forget(bench)
        bench.bus.chips[TROUBLED].deaf = True

    bench.during_wait.append(brown_out)
    assert_only_the_troubled_one(bench, Fault.BUS)


def test_settings_are_written_only_while_the_chip_is_idle(bench_of):
    """An earlier process may have left a conversion under way, of up to sixteen samples."""
    idle = []

    class Watched(EmulatedChip):
        def _store(self, address: int, byte: int) -> None:
            idle.append(self._ready_at is None)
            super()._store(address, byte)

    def leave_converting(bus) -> None:
        for select in bus.selects:
            driver = adafruit_max31856.MAX31856(bus, select)
            driver.noise_rejection = 50
            driver.averaging = 16
            driver.initiate_one_shot_measurement()
        idle.clear()

    bench_of(chip=Watched, prepare=leave_converting)
    assert idle
    assert all(idle)


# Probes


def test_an_open_lead_is_open_and_the_cold_junction_still_known(bench):
    bench.junctions[TROUBLED].circuit = Circuit.OPEN
    probe = assert_only_the_troubled_one(bench, Fault.OPEN)
    assert probe.cold_junction_celsius == bench.junctions[TROUBLED].cold_celsius
    assert bench.bus.chips[TROUBLED].registers[reg.SR] == reg.OPEN_CIRCUIT | reg.HOT_RANGE


def test_a_late_open_circuit_reads_the_cold_junction_until_it_is_found(bench):
    """Known of the chip; the watch has to distrust a probe that falls so."""
    bench.bus.chips[TROUBLED].open_lag_conversions = 2
    bench.junctions[TROUBLED].circuit = Circuit.OPEN
    cold = bench.junctions[TROUBLED].cold_celsius
    assert [bench.read().probes[TROUBLED].celsius for _ in range(3)] == [cold, cold, None]


def test_a_lead_at_the_supply_is_a_short_and_does_not_hang(bench, monkeypatch):
    bench.junctions[TROUBLED].circuit = Circuit.AT_SUPPLY
    before = bench.clock.seconds()
    assert_only_the_troubled_one(bench, Fault.SHORT)
    assert bench.clock.seconds() - before < 0.3  # the chip says so at once; no deadline is waited for
    assert_the_driver_alone_waits_for_ever(bench, monkeypatch)


def test_shorted_leads_read_the_cold_junction(bench):
    """No fault of the chip's: it cannot know."""
    bench.junctions[TROUBLED].circuit = Circuit.SHORTED
    assert bench.read().probes[TROUBLED].celsius == bench.junctions[TROUBLED].cold_celsius


def test_reversed_leads_read_falling_while_the_kiln_heats_then_leave_the_range(bench):
    probe = bench.junctions[TROUBLED]
    probe.circuit, probe.cold_celsius = Circuit.REVERSED, 25.0
    celsius = []
    for probe.hot_celsius in (25.0, 60.0, 100.0, 150.0):
        celsius.append(bench.read().probes[TROUBLED].celsius)
    assert celsius[0] == 25.0
    assert celsius == sorted(celsius, reverse=True)
    assert celsius[-1] < -100
    probe.hot_celsius = 600.0
    assert_only_the_troubled_one(bench, Fault.RANGE)


@pytest.mark.parametrize(("type_", "celsius"), [("K", 1380.0), ("K", -205.0), ("S", -60.0), ("B", 240.0)])
def test_past_what_the_thermocouple_can_give_is_out_of_range(bench_of, type_, celsius):
    bench = bench_of(channels=(Channel("bottom", 5), Channel("middle", 6, type_), Channel("top", 7)))
    bench.junctions[TROUBLED].hot_celsius = celsius
    assert_only_the_troubled_one(bench, Fault.RANGE)


@pytest.mark.parametrize(("hot", "cold", "fault"), [(800.0, 126.0, Fault.BUS), (1380.0, 25.0, Fault.RANGE)])
def test_a_number_no_chip_should_give_is_not_believed_even_without_a_fault_bit(bench_of, hot, cold, fault):
    class Unclamped(EmulatedChip):
        def _finish(self) -> None:
            super()._finish()
            self._registers[reg.SR] = 0
            self._registers[reg.LTCBH : reg.SR] = reg.hot_code(self.junction.hot_celsius)

    bench = bench_of(chip=Unclamped)
    assert_all_well(bench)
    bench.junctions[TROUBLED].hot_celsius, bench.junctions[TROUBLED].cold_celsius = hot, cold
    assert_only_the_troubled_one(bench, fault)


def test_an_amplifier_out_of_its_own_range_gives_neither_temperature(bench):
    bench.junctions[TROUBLED].cold_celsius = 126.0
    probe = assert_only_the_troubled_one(bench, Fault.RANGE)
    assert probe.cold_junction_celsius is None


# One buffer for all


def test_two_kilns_in_two_threads_do_not_write_each_others_settings(bench_of, monkeypatch):
    """The driver fills one buffer that all its chips share, then sends it: the other thread comes in between."""
    bench, other = bench_of(mains_hertz=50), bench_of(mains_hertz=60)
    sent: list[bytes] = []
    threads: list[threading.Thread] = []

    def meet(buf: bytearray, start: int = 0, end: int | None = None, send=bench.bus.write) -> None:
        if len(threads) < 3:
            threads.append(threading.Thread(target=other.read))
            threads[-1].start()
            threads[-1].join(0.03)
        sent.append(bytes(buf[start:end]))
        send(buf, start, end)

    monkeypatch.setattr(bench.bus, "write", meet)
    assert_all_well(bench)
    for thread in threads:
        thread.join()
    disturbed, sent = sent, []
    assert_all_well(bench)
    assert disturbed == sent
    assert_all_well(other)


def test_close_lets_go_of_the_bus(bench):
    released = []
    bench.probes._release = lambda: released.append(True)
    bench.probes.close()
    assert released == [True]
