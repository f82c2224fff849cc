"""Cones that bend inside the emulated kiln: the one in the shut-off and the pack behind the spyhole.

An Arrhenius law with one activation energy for every cone, tied to one published end point each. The
watch fits its own, cone by cone, to other columns of the chart; here it meets another engineer's cones.

Source: Edward Orton Jr. Ceramic Foundation, temperature equivalents of cones 022 to 14 in degC (edition
after 1996): small cones at 300 degC/h, self-supporting cones at 60 degC/h.
"""

import math

GAS_CONSTANT = 8.314462618  # J/(mol K), CODATA 2018
ACTIVATION = 850e3  # J/mol, ours: about the middle of what the chart's three rates give cones 010 to 10
KELVIN = 273.15
COLD_BELOW_END = 300.0  # a cone does nothing worth counting further below its end point than this

STANDING_AT_60: dict[str, int] = {
    "022": 586, "021": 600, "020": 626, "019": 678, "018": 715, "017": 738, "016": 772, "015": 791, "014": 807,
    "013": 837, "012": 861, "011": 875, "010": 903, "09": 920, "08": 942, "07": 976, "06": 998, "05": 1031,
    "04": 1063, "03": 1086, "02": 1102, "01": 1119, "1": 1137, "2": 1142, "3": 1152, "4": 1162, "5": 1186,
    "6": 1222, "7": 1239, "8": 1249, "9": 1260, "10": 1285, "11": 1294, "12": 1306, "13": 1331, "14": 1365,
}  # fmt: skip
SMALL_AT_300: dict[str, int] = {
    "022": 630, "021": 643, "020": 666, "019": 723, "018": 752, "017": 784, "016": 825, "015": 843, "014": 870,
    "013": 880, "012": 900, "011": 915, "010": 919, "09": 955, "08": 983, "07": 1008, "06": 1023, "05": 1062,
    "04": 1098, "03": 1131, "02": 1148, "01": 1178, "1": 1184, "2": 1190, "3": 1196, "4": 1209, "5": 1221,
    "6": 1255, "7": 1264, "8": 1300, "9": 1317, "10": 1330, "11": 1336, "12": 1355,
}  # fmt: skip


class Cone:
    """One cone in the heat. work: 0 fresh, 1 down; it never goes back."""

    __slots__ = ("_activation", "_end", "_log_rate", "work")

    def __init__(self, end_celsius: float, rate: float, activation: float = ACTIVATION) -> None:
        """rate: the climb in degC/h at which end_celsius is its end point. activation: J/mol."""
        end = end_celsius + KELVIN
        exponent = activation / (GAS_CONSTANT * end)
        # Integral of exp(-E/RT) up to the end point, to second order in RT/E: within 0.1 % here.
        width = end / exponent * (1 - 2 / exponent)
        self._end, self._activation = end, activation
        self._log_rate = exponent - math.log(width * 3600 / rate)
        self.work = 0.0

    def step(self, seconds: float, celsius: float) -> None:
        """Take the heat of so many seconds at this temperature."""
        kelvin = celsius + KELVIN
        if kelvin > self._end - COLD_BELOW_END:
            self.work += seconds * math.exp(self._log_rate - self._activation / (GAS_CONSTANT * kelvin))

    @property
    def down(self) -> bool:
        return self.work >= 1

    @property
    def bend_degrees(self) -> float:
        """From its lean of 8 degrees to 90: slow at first, quick at the end; ends by the chart, shape ours."""
        return min(90.0, math.degrees(2 * math.atan(math.tan(math.radians(4)) * math.exp(2.66 * min(self.work, 2.0)))))


def standing(cone: str) -> Cone:
    """A self-supporting cone of this name; ValueError when the emulated kiln has none."""
    if cone not in STANDING_AT_60:
        raise ValueError(f"there is no cone {cone!r} beside the emulated kiln; it has {', '.join(STANDING_AT_60)}")
    return Cone(STANDING_AT_60[cone], 60)


def cooler(cone: str) -> str | None:
    """The cone one whole number cooler, None for the coolest."""
    names = list(STANDING_AT_60)
    place = names.index(cone)
    return names[place - 1] if place else None
