"""The emulated chip, spoken to by the real driver: what it does that a reader has to reckon with."""

import pytest
from adafruit_max31856 import MAX31856, ThermocoupleType

from spyhole_hardware import registers as reg
from spyhole_hardware.emulated.chip import DataLine, EmulatedChip
from spyhole_hardware.emulated.junction import BenchJunction, Circuit
from spyhole_hardware.emulated.spi import BenchClock, EmulatedBus


class Wired:
    """One chip on a bus, with the driver on it."""

    def __init__(self, monkeypatch, type_: str = "K", fitted: str | None = None) -> None:
        self.clock = BenchClock()
        monkeypatch.setattr("adafruit_max31856.sleep", self.clock.wait)
        self.junction = BenchJunction(800.0, 25.0, type=fitted or type_)
        self.chip = EmulatedChip(self.junction, self.clock.seconds)
        self.bus = EmulatedBus([self.chip])
        self.driver = MAX31856(self.bus, self.bus.selects[0], getattr(ThermocoupleType, type_))


@pytest.fixture
def wired(monkeypatch):
    return Wired(monkeypatch)


def test_the_driver_reads_it(wired):
    assert wired.driver.temperature == 800.0
    assert wired.driver.read_high_res_temp() == 800.0
    assert wired.driver.reference_temperature == 25.0
    assert not any(wired.driver.fault.values())


def test_the_driver_sets_it_up(wired):
    wired.driver.averaging = 8
    wired.driver.noise_rejection = 50
    wired.driver.temperature_thresholds = (-10.5, 1100.0)
    wired.driver.reference_temperature_thresholds = (-5, 70)
    assert wired.driver.averaging == 8
    assert wired.driver.noise_rejection == 50
    assert wired.driver.temperature_thresholds == (-10.5, 1100.0)
    assert wired.driver.reference_temperature_thresholds == (-5, 70)


@pytest.mark.parametrize(
    ("hertz", "averaging", "seconds"), [(60, 1, 0.143), (50, 1, 0.169), (60, 4, 0.243), (50, 4, 0.289), (50, 16, 0.769)]
)
def test_a_conversion_takes_its_time_and_whoever_reads_early_reads_the_old_number(wired, hertz, averaging, seconds):
    driver, clock = wired.driver, wired.clock
    assert driver.temperature == 800.0
    driver.noise_rejection, driver.averaging = hertz, averaging
    wired.junction.hot_celsius = 900.0
    driver.initiate_one_shot_measurement()
    clock.wait(seconds - 0.001)
    assert driver.oneshot_pending
    assert driver.unpack_temperature() == 800.0
    clock.wait(0.002)
    assert not driver.oneshot_pending
    assert driver.unpack_temperature() == 900.0


def test_a_number_stays_until_the_next_conversion(wired):
    assert wired.driver.temperature == 800.0
    wired.junction.hot_celsius = 900.0
    wired.clock.wait(3600)
    assert wired.driver.unpack_temperature() == 800.0


def test_automatic_conversions_follow_the_junction(wired):
    wired.driver.start_autoconverting()
    wired.clock.wait(0.15)
    assert wired.driver.unpack_temperature() == 800.0
    wired.junction.hot_celsius = 900.0
    wired.clock.wait(0.09)
    wired.driver.unpack_temperature()
    wired.clock.wait(0.09)
    assert wired.driver.unpack_temperature() == 900.0


def test_a_brown_out_leaves_what_it_wakes_with(wired):
    wired.driver.noise_rejection = 50
    wired.driver.initiate_one_shot_measurement()
    wired.chip.forget()
    wired.clock.wait(1)
    assert wired.chip.registers == reg.RESET
    assert wired.driver.noise_rejection == 60
    assert wired.driver.averaging == 1


def test_what_it_is_set_to_is_what_it_linearises_by(monkeypatch):
    wired = Wired(monkeypatch, "K", fitted="S")
    wired.junction.hot_celsius = 1200.0
    assert wired.driver.temperature == pytest.approx(314.4, abs=0.1)


def test_the_brown_out_of_a_type_s_amplifier_reads_314_without_a_fault(monkeypatch):
    wired = Wired(monkeypatch, "S")
    wired.junction.hot_celsius = 1200.0
    assert wired.driver.temperature == 1200.0
    wired.chip.forget()
    assert wired.driver.temperature == pytest.approx(314.4, abs=0.1)
    assert not any(wired.driver.fault.values())


def test_an_open_circuit_is_found_only_when_it_is_looked_for(wired):
    wired.junction.circuit = Circuit.OPEN
    _ = wired.driver.temperature
    assert [name for name, raised in wired.driver.fault.items() if raised] == ["tc_range", "open_tc"]
    wired.chip.forget()
    assert wired.driver.temperature == 25.0
    assert not any(wired.driver.fault.values())


def test_an_open_circuit_mended_is_a_number_again(wired):
    wired.junction.circuit = Circuit.OPEN
    _ = wired.driver.temperature
    wired.junction.circuit = Circuit.SOUND
    assert wired.driver.temperature == 800.0
    assert not any(wired.driver.fault.values())


@pytest.mark.parametrize(
    ("hot", "cold", "faults"),
    [
        (1372.0, 25.0, []),
        (1373.0, 25.0, ["tc_range"]),
        (-200.0, 25.0, []),
        (-201.0, 25.0, ["tc_range"]),
        (800.0, 125.0, []),
        (800.0, 125.5, ["cj_range"]),
        (800.0, -55.0, []),
        (800.0, -55.5, ["cj_range"]),
    ],
)
def test_each_junction_has_its_own_range(wired, hot, cold, faults):
    wired.junction.hot_celsius, wired.junction.cold_celsius = hot, cold
    _ = wired.driver.temperature
    assert [name for name, raised in wired.driver.fault.items() if raised] == faults


@pytest.mark.parametrize(
    ("hot", "cold", "faults"),
    [
        (500.0, 20.0, []),
        (1100.5, 20.0, ["tc_high"]),
        (99.5, 20.0, ["tc_low"]),
        (500.0, 71.0, ["cj_high"]),
        (500.0, 9.0, ["cj_low"]),
    ],
)
def test_thresholds(wired, hot, cold, faults):
    wired.driver.temperature_thresholds = (100.0, 1100.0)
    wired.driver.reference_temperature_thresholds = (10, 70)
    wired.junction.hot_celsius, wired.junction.cold_celsius = hot, cold
    _ = wired.driver.temperature
    assert [name for name, raised in wired.driver.fault.items() if raised] == faults


def test_the_offset_of_the_cold_junction_is_added(wired):
    wired.driver._write_u8(reg.CJTO, 0x20)  # 2 degC
    assert wired.driver.reference_temperature == 27.0
    assert wired.driver.temperature == pytest.approx(801.9, abs=0.1)


def test_with_its_own_sensor_off_it_compensates_by_what_is_written(wired):
    wired.driver._write_u8(reg.CR0, reg.COLD_JUNCTION_DISABLED)
    for address, value in enumerate(reg.cold_code(40.0), reg.CJTH):
        wired.driver._write_u8(address, value)
    assert wired.driver.reference_temperature == 40.0
    assert wired.driver.temperature > 810


def test_what_it_measures_cannot_be_written(wired):
    _ = wired.driver.temperature
    before = wired.chip.registers
    for address in range(reg.CJTH, reg.REGISTER_COUNT):
        wired.driver._write_u8(address, 0x55)
    assert wired.chip.registers == before


def test_faults_that_latch_stay_until_they_are_cleared(wired):
    wired.driver._write_u8(reg.CR0, reg.FAULTS_LATCH | reg.OPEN_DETECTION_UNDER_5K)
    wired.junction.circuit = Circuit.OPEN
    _ = wired.driver.temperature
    wired.junction.circuit = Circuit.SOUND
    _ = wired.driver.temperature
    assert wired.driver.fault["open_tc"]
    wired.driver._write_u8(reg.CR0, reg.FAULTS_LATCH | reg.FAULT_CLEAR)
    assert not any(wired.driver.fault.values())
    assert wired.chip.registers[reg.CR0] == reg.FAULTS_LATCH


def test_a_lead_at_the_supply_suspends_the_conversion_until_it_is_off(wired):
    wired.junction.circuit = Circuit.AT_SUPPLY
    wired.driver.initiate_one_shot_measurement()
    wired.clock.wait(60)
    assert wired.driver.oneshot_pending
    assert wired.driver.fault["voltage"]
    wired.junction.circuit = Circuit.SOUND
    assert not wired.driver.fault["voltage"]


@pytest.mark.parametrize(("line", "answer"), [(DataLine.STUCK_LOW, b"\x00\x00"), (DataLine.STUCK_HIGH, b"\xff\xff")])
def test_a_stuck_line(wired, line, answer):
    wired.chip.line = line
    assert bytes(wired.driver._read_register(reg.CR0, 2)) == answer


def test_garbage_is_the_same_garbage_for_the_same_seed(wired):
    def ten_answers() -> list[bytes]:
        chip = EmulatedChip(wired.junction, wired.clock.seconds, seed=7)
        chip.line = DataLine.GARBAGE
        return [chip.read(4) for _ in range(10)]

    assert ten_answers() == ten_answers()
    assert len(set(ten_answers())) == 10


def test_so_many_answers_have_one_wrong_bit(wired):
    _ = wired.driver.temperature
    wired.chip.flips = 2
    wrong = [
        (
            int.from_bytes(wired.driver._read_sequential_registers(0, 16)) ^ int.from_bytes(wired.chip.registers)
        ).bit_count()
        for _ in range(3)
    ]
    assert wrong == [1, 1, 0]
