"""When the kiln is cool: its model run on once the heat is off, and the law of the curve by which it cools."""

from math import exp, log, sqrt
from statistics import fmean

from spyhole.core.foresight import EIGHTY_PERCENT, start_celsius
from spyhole.core.outcome import Forecast
from spyhole.core.thermal.cooling_law import LEAST_CELSIUS, TARGET_CELSIUS, counts, hours_left
from spyhole.core.thermal.cooling_law import deviation as law_deviation
from spyhole.core.thermal.forward import ahead
from spyhole.core.thermal.physics import NODES, Outside
from spyhole.core.thermal.prior import with_lid
from spyhole.core.view import View

HOUR_MS = 3_600_000
COOL_SHARE = 0.075
COOL_EARLY_SHARE = 0.16
COOL_EARLY_HOURS = 1.2
"""How far off a cooling forecast is eight times in ten, as a share of what is left: what the walls hold shows only
once they have cooled for a while (measured on kilns of the proving ground)."""
COOL_KNOWN_SHARE = 0.05
"""The same of a kiln that was seen to cool before (measured on 40 others)."""
ALIKE = 0.45
"""How far the model and the law err alike: its correlation on 283 kilns of the proving ground was 0.41 and 0.47."""
TOO_FAR = 2.0
"""In deviations of both together: further apart, it is the model that is doubted (chosen)."""
WARE_BEHIND_HOURS = 0.1
"""How long after its probe the hottest ware of a cooling ring is as cool: a lumped body's time constant, its density x
heat capacity x half its thickness / h, is some 0.1 h for a pot of 5 mm and 0.4 h for a shelf of 16 mm, at 2000 kg/m3,
850 J/kgK and 10 W/m2K on both sides near 100 degC (typical values, from memory; the formula after Incropera)."""
KEEPER_CELSIUS = 15.0
"""How far below the plan's word a keeper cracks the lid, who comes when there is time. That it is propped further on
the way to the last hundred degrees is not reckoned with: one does, another leaves it (common practice, no source)."""


def cools(view: View, targets: tuple[int, ...]) -> tuple[tuple[int, Forecast | None], ...]:
    """When the hottest ring reaches each target [degC], hottest target first; None once it is there, or if never."""
    firing = view.firing
    if firing.model is None:
        return tuple((t, None) for t in targets)
    found = _run(view, targets, firing.plan.cooling.crack_below_celsius)
    gone_hours = (view.now_ms - (firing.off_ms or view.now_ms)) / HOUR_MS
    unsure = COOL_SHARE + COOL_EARLY_SHARE * exp(-gone_hours / COOL_EARLY_HOURS)
    if firing.learned.cooling:
        unsure = COOL_KNOWN_SHARE
    longer, deviation = _by_its_curve(view, found, unsure / EIGHTY_PERCENT)

    def forecast(t: int) -> Forecast | None:
        if t not in found:
            return None
        hours = found[t] * longer
        wide = EIGHTY_PERCENT * deviation * hours

        def at(time: float) -> int:
            return view.utc_ms + round(time * HOUR_MS)

        return Forecast(at(hours - wide), at(hours), at(hours + wide))

    return tuple((t, forecast(t)) for t in targets)


def _by_its_curve(view: View, found: dict[int, float], deviation: float) -> tuple[float, float]:
    """How many times longer the kiln cools than its model has it, by the law of its own curve as far as that is known
    better, and one deviation of the logarithm of both together. deviation: the model's."""
    firing, fall = view.firing, view.firing.fall
    bends = () if fall is None else fall.bends(firing.room_celsius)
    ends = [log(bend.hours + left) for bend in bends if (left := hours_left(bend)) is not None]
    if fall is None or not ends:
        return 1.0, deviation
    gone, target = (view.now_ms - fall.since_ms) / HOUR_MS, round(TARGET_CELSIUS)
    left = exp(fmean(ends)) - gone
    # The law is of a kiln left shut; so that the two can be compared where a plan has it opened sooner, so is this.
    shut = _run(view, (target,), LEAST_CELSIUS) if firing.plan.cooling.crack_below_celsius > LEAST_CELSIUS else found
    heard = counts(gone, fall.celsius[-1])
    if left <= 0.0 or target not in shut or heard <= 0.0:
        return 1.0, deviation
    own, apart = law_deviation(gone), log(left / shut[target])
    # Two so far apart cannot both be right, and a model that is still settling goes astray more than a curve does.
    deviation = sqrt(deviation**2 + max(0.0, (apart / TOO_FAR) ** 2 - deviation**2 - own**2))
    # Two opinions that err partly alike, weighed so that they err least together (least squares: Gauss and Markov).
    alike = ALIKE * deviation * own
    part = heard * min(max((deviation**2 - alike) / (deviation**2 + own**2 - 2.0 * alike), 0.0), 1.0)
    both = (part * own) ** 2 + ((1.0 - part) * deviation) ** 2 + 2.0 * part * (1.0 - part) * alike
    return exp(part * apart), sqrt(both)


def _run(view: View, targets: tuple[int, ...], crack_below_celsius: float) -> dict[int, float]:
    """Hours until the ware of the hottest ring is at each of these targets, by the kiln model; without those that it is
    at already or never reaches. crack_below_celsius: when a keeper may crack the lid."""
    firing, model = view.firing, view.firing.model
    assert model is not None
    celsius, outside = start_celsius(view), model.told[-1][1]
    found: dict[int, float] = {}
    hottest, gone = max(celsius[::NODES]), 0.0
    crack_celsius = crack_below_celsius - KEEPER_CELSIUS
    cracked = with_lid(outside, "cracked")
    wanted = [t for t in targets if hottest > t > firing.room_celsius + 5.0]

    def finish(hours: float, celsius: list[float]) -> float | None:
        nonlocal hottest, gone
        now = max(celsius)
        for t in wanted:
            if t not in found and now <= t:
                # A model that is not settled may foretell frost, which has no logarithm.
                part = log(hottest / t) / log(hottest / now) if 0.0 < now < hottest else 1.0
                found[t] = gone + (hours - gone) * part
        hottest, gone = now, hours
        return hours if len(found) == len(wanted) else None

    def told(hours: float, celsius: list[float]) -> tuple[Outside, float]:
        step = 0.1 if hours < 1.0 else 0.4
        hottest_now = max(celsius)
        if hottest_now > crack_celsius:
            return outside, step
        return cracked, min(step, 0.2)

    if wanted:
        ahead(model.heat, celsius, told, finish, 96.0)
    return {t: hours + WARE_BEHIND_HOURS for t, hours in found.items()}
