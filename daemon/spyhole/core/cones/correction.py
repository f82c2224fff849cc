"""What a cone that somebody looked at says about a probe: a shrunk offset [degC], with its deviation.

Each sighting is evidence about one number, what has to be added to the probe. A cone seen half over says it both ways;
one seen down says only that it is down by now, and one still upright only that it is not. Beliefs stay normal: exact
sightings by Bayes, one-sided ones by the moments of a normal cut off by a soft edge (Rasmussen and Williams, Gaussian
Processes for Machine Learning, 2006, section 3.9). Order matters little, and what was undone is simply left out.

A sighting that would need the probe to be wrong beyond belief is doubted, not believed: ask the keeper.
"""

from dataclasses import dataclass
from functools import lru_cache
from math import erfc, exp, hypot, inf, log, pi, radians, sqrt, tan

from spyhole.core.cones.doubt import cone_deviation_celsius
from spyhole.core.cones.kinetics import DOWN_DEGREES, UPRIGHT_DEGREES, Cone, alpha_of_bend, cone
from spyhole.core.learned import Belief
from spyhole.core.plan import Body

DOUBTED_DEVIATIONS = 3.0
EYE_DEGREES = 7.0
"""How well a bend is judged through a spyhole (common practice, no source)."""
WIDTH_SHARE = 0.3
"""How far a cone's own width is from what our fit has of it: the charts give where cones end, at rates a factor of ten
apart, and not how they get there; neighbours in the fit differ by a fifth to a half. So a cone seen half over says less
of the probe than one just down (on 23 kilns of the proving ground the probe's offset was 4.3 degC off, root mean
square, before any cone and after the last firing's alike; so counted, 4.0)."""
FLAT_DEGREES = 130.0
STILL_UPRIGHT_DEGREES = 15.0
"""A cone called upright has bent less than this."""
NEARLY_DOWN_DEGREES = 88.0
BADLY_WRONG_CELSIUS = 80.0
"""A probe further off than this is no probe to correct (common practice, no source)."""
SUREST_CELSIUS = 2.5
"""No cones make a probe surer than this: they share a lot, a shelf and our fit (common practice, no source)."""


@dataclass(frozen=True, slots=True)
class Sighting:
    """One cone as somebody saw it, and what the watch held it to be by then.

    sequence: of the entry. probe: index of the probe beside it. bend_degrees: 90 is down, 130 flat. alpha: heat work
    by the uncorrected readings. peak_celsius: the hottest so far. look_celsius: how far the kiln climbed since the
    keeper's last look, None where nobody was looking (after the firing): then a cone down may have been down long.
    """

    sequence: int
    probe: int
    cone: str
    body: Body
    bend_degrees: float
    alpha: float
    peak_celsius: float
    look_celsius: float | None = None


@dataclass(frozen=True, slots=True)
class Taught:
    """offset: what to add to this probe. doubted: sequences of entries that cannot be true of it."""

    offset: Belief
    doubted: tuple[int, ...] = ()


def degrees_seen(value: str) -> tuple[str, float]:
    """Cone and bend [degrees] of an entry's value, already checked by `core.forms.entries_csv`.

    >>> degrees_seen("06:down"), degrees_seen("05:85"), degrees_seen("04:flat")
    (('06', 90.0), ('05', 85.0), ('04', 130.0))
    """
    name, _, bend = value.partition(":")
    words = {"down": DOWN_DEGREES, "flat": FLAT_DEGREES}
    return name, words[bend] if bend in words else min(float(bend), FLAT_DEGREES)


@lru_cache(maxsize=64)
def corrected(prior: Belief, sightings: tuple[Sighting, ...]) -> Taught:
    """The offset of one probe after these sightings, all of that probe, oldest first.

    Two different cones that are both beyond belief and agree are believed: then it is the probe that is badly wrong.
    """
    taught = _believed(prior, sightings)
    doubted = tuple(s for s in sightings if s.sequence in taught.doubted)
    if len({s.cone for s in doubted}) < 2:
        return taught
    needed = [_needed(s, alpha_of_bend(s.bend_degrees)) - prior.value for s in doubted]
    least, most = min(needed, key=abs), max(needed, key=abs)
    if abs(most) > BADLY_WRONG_CELSIUS or abs(most - least) > DOUBTED_DEVIATIONS * prior.deviation:
        return taught
    again = _believed(Belief(prior.value, abs(most) / 2.0), sightings)
    return taught if again.doubted else again


def _believed(prior: Belief, sightings: tuple[Sighting, ...]) -> Taught:
    belief, doubted = prior, []
    for sighting in sightings:
        after = _after(belief, prior, sighting)
        if after is None:
            doubted.append(sighting.sequence)
        else:
            belief = Belief(after.value, max(after.deviation, min(SUREST_CELSIUS, belief.deviation)))
    return Taught(belief, tuple(doubted))


def _after(belief: Belief, prior: Belief, sighting: Sighting) -> Belief | None:
    one, bend = cone(sighting.cone, sighting.body), sighting.bend_degrees
    own = _deviation_celsius(one, sighting)
    if bend > NEARLY_DOWN_DEGREES:
        least = _needed(sighting, 1.0 if bend < FLAT_DEGREES else _alpha_of(FLAT_DEGREES))
        if (least - belief.value) > DOUBTED_DEVIATIONS * hypot(prior.deviation, own):
            return None
        after = _at_least(belief, least, own)
        if sighting.look_celsius is None or bend >= FLAT_DEGREES:
            return after
        most = least + max(sighting.look_celsius, 0.0)
        # Long past its number and only now seen down: somebody looked late, or the probe reads high. Both, in part.
        if belief.value - most > DOUBTED_DEVIATIONS * hypot(prior.deviation, own):
            return None
        # Nobody looks by the clock: that edge is as soft as half the time between two looks.
        return _at_most(after, most, hypot(own, (most - least) / 2.0))
    if bend <= UPRIGHT_DEGREES + 2.0:
        most = _needed(sighting, alpha_of_bend(STILL_UPRIGHT_DEGREES))
        if (belief.value - most) > DOUBTED_DEVIATIONS * hypot(prior.deviation, own):
            return None
        return _at_most(belief, most, own)
    needed = _needed(sighting, alpha_of_bend(bend))
    if needed == inf:
        return None
    either_way = abs(_needed(sighting, alpha_of_bend(bend + EYE_DEGREES)) - needed)
    seen = hypot(own, min(either_way, 1e6))
    if abs(needed - belief.value) > DOUBTED_DEVIATIONS * hypot(prior.deviation, seen):
        return None
    share = belief.deviation**2 / (belief.deviation**2 + seen**2)
    return Belief(belief.value + share * (needed - belief.value), belief.deviation * sqrt(1.0 - share))


def _deviation_celsius(one: Cone, sighting: Sighting) -> float:
    """What this cone leaves open of the probe: lot, fit, and its width the more the further it is from just down."""
    held = max(sighting.bend_degrees, STILL_UPRIGHT_DEGREES)
    before_down = abs(log(min(alpha_of_bend(held), 1.0)))
    width = one.width_celsius(sighting.peak_celsius)
    return hypot(cone_deviation_celsius(one), WIDTH_SHARE * width * before_down)


def _alpha_of(degrees_bent: float) -> float:
    """As `alpha_of_bend`, past 90 degrees too."""
    beyond = tan(radians(degrees_bent / 2.0)) / tan(radians(DOWN_DEGREES / 2.0))
    upright = tan(radians(DOWN_DEGREES / 2.0)) / tan(radians(UPRIGHT_DEGREES / 2.0))
    return 1.0 + log(beyond) / log(upright)


def _needed(sighting: Sighting, alpha: float) -> float:
    """The offset [degC] with which the watch would have said this alpha."""
    if sighting.alpha <= 0.0 or alpha <= 0.0:
        return inf if alpha > 0.0 else -inf
    return cone(sighting.cone, sighting.body).width_celsius(sighting.peak_celsius) * log(alpha / sighting.alpha)


def _at_least(belief: Belief, least: float, edge: float) -> Belief:
    """A normal belief after learning that the number is at least this, give or take `edge`."""
    if least == -inf:
        return belief
    whole = hypot(belief.deviation, edge)
    z = (belief.value - least) / whole
    below = 0.5 * erfc(-z / sqrt(2.0))
    ratio = exp(-0.5 * z * z) / sqrt(2.0 * pi) / below if below > 1e-300 else -z
    share = belief.deviation**2 / whole
    narrowed = 1.0 - (belief.deviation / whole) ** 2 * ratio * (ratio + z)
    return Belief(belief.value + share * ratio, belief.deviation * sqrt(max(narrowed, 1e-6)))


def _at_most(belief: Belief, most: float, edge: float) -> Belief:
    if most == inf:
        return belief
    mirrored = _at_least(Belief(-belief.value, belief.deviation), -most, edge)
    return Belief(-mirrored.value, mirrored.deviation)
