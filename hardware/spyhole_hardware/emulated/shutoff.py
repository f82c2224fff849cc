"""The emulated kiln's mechanical shut-off: a small cone under a rod, a weight, and a latch for all rings."""

import random

from spyhole_hardware.emulated.cone import SMALL_AT_300, Cone

ROD_BIAS_CELSIUS = -5.5  # the rod presses a lying cone down early; size common practice, no source
HABIT_CELSIUS = 1.5  # one kiln to another
LOT_CELSIUS = 1.0  # one cone to another: the chart's notes give a lot +-2


class Shutoff:
    """Trips when its cone is down, unless jammed; closed again only by `arm` with a new cone."""

    def __init__(self, cone: str, kiln_seed: int, cone_seed: int) -> None:
        """kiln_seed: this shut-off's own habit, the same every firing. cone_seed: this cone's scatter."""
        self._habit = ROD_BIAS_CELSIUS + random.Random(f"shut-off {kiln_seed}").gauss(0, HABIT_CELSIUS)
        self.jammed = False
        self.arm(cone, cone_seed)

    def arm(self, cone: str, cone_seed: int) -> None:
        """Seat a new cone and lift the weight; ValueError for a cone that is not made small."""
        if cone not in SMALL_AT_300:
            raise ValueError(f"there is no small cone {cone!r} for the shut-off; there are {', '.join(SMALL_AT_300)}")
        scatter = random.Random(f"small cone {cone_seed}").gauss(0, LOT_CELSIUS)
        self.cone_name = cone
        self.cone = Cone(SMALL_AT_300[cone] + self._habit + scatter, 300)
        self.tripped = False

    def step(self, seconds: float, celsius: float) -> None:
        """Heat the cone; trip when it is down and the rod moves freely."""
        self.cone.step(seconds, celsius)
        if self.cone.down and not self.jammed:
            self.tripped = True
