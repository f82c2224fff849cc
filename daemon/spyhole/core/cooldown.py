"""The kiln model run on once the heat is off: when the kiln is cool."""

from math import exp, log

from spyhole.core.foresight import start_celsius
from spyhole.core.outcome import Forecast
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
WARE_BEHIND_HOURS = 0.1
"""How long after its probe the hottest ware of a cooling ring is as cool: a lumped body's time constant, its density x
heat capacity x half its thickness / h, is some 0.1 h for a pot of 5 mm and 0.4 h for a shelf of 16 mm, at 2000 kg/m3,
850 J/kgK and 10 W/m2K on both sides near 100 degC (typical values, from memory; the formula after Incropera)."""
KEEPER_CELSIUS = 15.0
"""How far below the plan's word a keeper cracks the lid, who comes when there is time. That it is propped further on
the way to the last hundred degrees is not reckoned with: one does, another leaves it (common practice, no source)."""


def cools(view: View, targets: tuple[int, ...]) -> tuple[tuple[int, Forecast | None], ...]:
    """When the hottest ring reaches each target [degC], hottest target first; None once it is there, or if never."""
    firing, model = view.firing, view.firing.model
    if model is None:
        return tuple((t, None) for t in targets)
    celsius, outside = start_celsius(view), model.told[-1][1]
    found: dict[int, float] = {}
    hottest, gone = max(celsius[::NODES]), 0.0
    crack_celsius = firing.plan.cooling.crack_below_celsius - KEEPER_CELSIUS
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

    gone_hours = (view.now_ms - (firing.off_ms or view.now_ms)) / HOUR_MS
    unsure = COOL_SHARE + COOL_EARLY_SHARE * exp(-gone_hours / COOL_EARLY_HOURS)
    if firing.learned.cooling:
        unsure = COOL_KNOWN_SHARE

    def forecast(t: int) -> Forecast | None:
        hours = found.get(t)
        if hours is None:
            return None
        wide = unsure * hours
        hours += WARE_BEHIND_HOURS

        def at(time: float) -> int:
            return view.utc_ms + round(time * HOUR_MS)

        return Forecast(at(hours - wide), at(hours), at(hours + wide))

    return tuple((t, forecast(t)) for t in targets)
