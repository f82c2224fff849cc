"""Heat work of pyrometric cones: how fast a cone works, when it is down, how far it has bent.

Law: d(alpha)/dt = A exp(-E/(R T)), alpha [-] from 0, the cone down at alpha = 1, T [K], E [J/mol], A [1/s].
Reference: Kissinger, Analytical Chemistry 29 (1957) 1702; the end points are those of `core.cones.chart`.
Valid for climbs from 15 to 150 degC/h, the rates of the chart; outside them it extrapolates. Soaks, which no chart
gives, are good to a factor of two until a witness cone of this kiln says more.

A cone is kept as its end point at 60 degC/h and its E: two numbers that mean something to a potter and do not trade
against each other, as A and E do. To move a cone by what a witness cone taught, replace its `end_60_celsius`.
"""

from dataclasses import dataclass, field
from functools import lru_cache
from math import atan, ceil, degrees, exp, log, radians, tan

from spyhole.core.cones.integral import GAS_CONSTANT, KELVIN, kelvin_of_log_integral, log_integral
from spyhole.core.cones.parameters import PARAMETERS
from spyhole.core.plan import Body
from spyhole.core.refusal import Refusal

SLOWEST_CELSIUS_PER_HOUR = 15.0
FASTEST_CELSIUS_PER_HOUR = 150.0
"""The rates the chart gives: outside them, say so."""

LOT_CELSIUS = 2.0
"""A lot of cones against the archived standard cone, plus or minus [degC]: the maker's own statement (2003)."""

UPRIGHT_DEGREES = 8.0
DOWN_DEGREES = 90.0

_BEND_STEEPNESS = 2.66
_IDLE_BELOW_END_CELSIUS = 400.0
_PER_HOUR_60 = log(60.0 / 3600.0)


@dataclass(frozen=True, slots=True)
class Cone:
    """One pyrometric cone, self-supporting.

    name: as on the cone; 05 and 5 are two cones. end_60_celsius: down at 60 degC/h. activation_joules_per_mole: E.
    """

    name: str
    body: Body
    end_60_celsius: float
    activation_joules_per_mole: float
    activation_kelvin: float = field(init=False, repr=False, compare=False)
    log_frequency: float = field(init=False, repr=False, compare=False)
    idle_celsius: float = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        activation_kelvin = self.activation_joules_per_mole / GAS_CONSTANT
        object.__setattr__(self, "activation_kelvin", activation_kelvin)
        log_frequency = _PER_HOUR_60 - log_integral(activation_kelvin, self.end_60_celsius + KELVIN)
        object.__setattr__(self, "log_frequency", log_frequency)
        object.__setattr__(self, "idle_celsius", self.end_60_celsius - _IDLE_BELOW_END_CELSIUS)

    def rate_per_second(self, celsius: float) -> float:
        """d(alpha)/dt [1/s] at this temperature [degC]; 0 further than 400 degC below the end point.

        >>> round(cone("6").rate_per_second(1222.0) * 3600.0, 2)
        2.52
        """
        if celsius < self.idle_celsius:
            return 0.0
        return exp(self.log_frequency - self.activation_kelvin / (celsius + KELVIN))

    def width_celsius(self, celsius: float) -> float:
        """R T^2/E [degC]: the rate grows e-fold over this; small means a sharp cone.

        >>> round(cone("05").width_celsius(1031.0), 1)
        10.2
        """
        return (celsius + KELVIN) ** 2 / self.activation_kelvin


def _cones(body: Body) -> dict[str, Cone]:
    return {
        name: Cone(name, body, end_60_celsius, kilojoules_per_mole * 1e3)
        for name, end_60_celsius, kilojoules_per_mole in PARAMETERS[body]
    }


_CONES = {body: _cones(body) for body in Body}


def cone_names(body: Body = Body.ORDINARY) -> tuple[str, ...]:
    """Every cone of this body, half cones too, from the softest to the hardest."""
    return tuple(_CONES[body])


def whole_cones(body: Body = Body.ORDINARY) -> tuple[str, ...]:
    """The whole-numbered cones of this body, from the softest to the hardest.

    >>> whole_cones(Body.IRON_FREE)[-3:]
    ('01', '1', '3')
    """
    return tuple(name for name in _CONES[body] if "." not in name)


def cone(name: str, body: Body = Body.ORDINARY) -> Cone:
    """The cone of this name; Refusal naming the cones there are.

    >>> round(cone("5").end_60_celsius - cone("05").end_60_celsius)
    154
    >>> cone("2", Body.IRON_FREE)
    Traceback (most recent call last):
    ...
    spyhole.core.refusal.Refusal: cone: there is no iron-free cone '2'; the iron-free cones are 010, 09, 08, 07, 06, \
05.5, 05, 04, 03, 02, 01, 1, 3
    """
    found = _CONES[body].get(name)
    if found is None:
        kind = body.value.replace("_", "-")
        raise Refusal("cone", f"there is no {kind} cone {name!r}", f"the {kind} cones are {', '.join(_CONES[body])}")
    return found


def guide_of(firing: Cone) -> Cone | None:
    """The guide cone: one whole number cooler; None below the softest. Half cones are nobody's guide or guard.

    >>> guide_of(cone("5")).name, guide_of(cone("5.5")).name, guide_of(cone("1")).name, guide_of(cone("022"))
    ('4', '5', '01', None)
    """
    cooler = [name for name in cone_names(firing.body)[: cone_names(firing.body).index(firing.name)] if "." not in name]
    return cone(cooler[-1], firing.body) if cooler else None


def guard_of(firing: Cone) -> Cone | None:
    """The guard cone: one whole number hotter; None above the hardest.

    >>> guard_of(cone("05")).name, guard_of(cone("01")).name, guard_of(cone("1", Body.IRON_FREE)).name
    ('04', '1', '3')
    """
    names = cone_names(firing.body)
    hotter = [name for name in names[names.index(firing.name) + 1 :] if "." not in name]
    return cone(hotter[0], firing.body) if hotter else None


def heat_work(of: Cone, from_celsius: float, to_celsius: float, seconds: float) -> float:
    """alpha [-] gained between two readings [degC] this far apart [s], the temperature taken as straight between them.

    Simpson's rule in pieces of half a width of the cone at most: within 1e-4 of the gain. Never negative.

    >>> round(heat_work(cone("6"), 1000.0, 1222.0, 3.7 * 3600.0), 3)
    1.07
    """
    if seconds <= 0.0 or (from_celsius < of.idle_celsius and to_celsius < of.idle_celsius):
        return 0.0
    hotter = max(from_celsius, to_celsius)
    pieces = max(1, ceil(2.0 * abs(to_celsius - from_celsius) / of.width_celsius(hotter)))
    step = (to_celsius - from_celsius) / pieces
    total = 0.0
    start = of.rate_per_second(from_celsius)
    for piece in range(pieces):
        left = from_celsius + piece * step
        end = of.rate_per_second(left + step)
        total += start + 4.0 * of.rate_per_second(left + 0.5 * step) + end
        start = end
    return total * seconds / (6.0 * pieces)


@lru_cache(maxsize=256)  # each bin asks the same of the same cones
def end_point_celsius(of: Cone, celsius_per_hour: float) -> float:
    """Where this cone is down at a steady climb [degC]: the peak to aim for without a soak.

    >>> round(end_point_celsius(cone("04"), 150.0)), round(end_point_celsius(cone("04"), 60.0))
    (1076, 1064)
    """
    wanted = log(celsius_per_hour / 3600.0) - of.log_frequency
    return kelvin_of_log_integral(of.activation_kelvin, wanted, of.end_60_celsius + KELVIN) - KELVIN


def alpha_of_climb(of: Cone, celsius: float, celsius_per_hour: float) -> float:
    """alpha [-] of a cone that came to this temperature [degC] at a steady climb.

    >>> round(alpha_of_climb(cone("04"), 1063.94, 60.0), 2)
    1.0
    """
    return exp(of.log_frequency + log_integral(of.activation_kelvin, celsius + KELVIN)) * 3600.0 / celsius_per_hour


def soak_alpha_per_minute(of: Cone, celsius: float) -> float:
    """alpha [-] gained by each minute held at this temperature [degC]; good to a factor of two.

    >>> round(soak_alpha_per_minute(cone("6"), 1222.0), 3)
    0.042
    """
    return of.rate_per_second(celsius) * 60.0


def bend_degrees(alpha: float) -> float:
    """How far a cone has bent [degrees], from its 8 degrees of lean to 90, down: 2 atan(tan 4deg exp(2.66 alpha)).

    >>> [round(bend_degrees(alpha)) for alpha in (0.0, 0.28, 0.74, 0.93, 1.0, 2.4)]
    [8, 17, 53, 79, 90, 90]
    """
    return min(DOWN_DEGREES, _unclipped_bend_degrees(alpha))


def _unclipped_bend_degrees(alpha: float) -> float:
    return 2.0 * degrees(atan(tan(radians(UPRIGHT_DEGREES / 2.0)) * exp(_BEND_STEEPNESS * min(max(alpha, 0.0), 20.0))))


def alpha_of_bend(degrees_bent: float) -> float:
    """alpha [-] of a cone seen bent this far [degrees], 8 to 90.

    >>> round(alpha_of_bend(79.0), 2), round(alpha_of_bend(8.0), 2), round(alpha_of_bend(90.0), 2)
    (0.93, 0.0, 1.0)
    """
    bent = min(max(degrees_bent, UPRIGHT_DEGREES), DOWN_DEGREES)
    return log(tan(radians(bent / 2.0)) / tan(radians(UPRIGHT_DEGREES / 2.0))) / _BEND_STEEPNESS


def bend_words(degrees_bent: float) -> str:
    """Where a cone stands, in a potter's words. More than 90 degrees is a cone that lies flat.

    >>> bend_words(8.0), bend_words(30.0), bend_words(50.0), bend_words(79.0), bend_words(90.0)
    ('upright', 'leaning', 'half over', 'tip nearly level', 'down')
    """
    for limit, words in ((15.0, "upright"), (38.0, "leaning"), (65.0, "half over"), (89.5, "tip nearly level")):
        if degrees_bent < limit:
            return words
    return "down" if degrees_bent < 130.0 else "flat"


def alpha_words(alpha: float) -> str:
    """Where a cone with this heat work stands, flat included (bent 130 degrees by the same formula).

    >>> alpha_words(0.5), alpha_words(1.1), alpha_words(2.4)
    ('leaning', 'down', 'flat')
    """
    return bend_words(_unclipped_bend_degrees(alpha))
