"""What a trial of a probe on the bench says: by a warm hand, by ice, by boiling water. Pure."""

from collections.abc import Mapping

from spyhole.core.boiling import boiling_celsius

MOVED_CELSIUS = 2.0
"""What two fingers do to a bare tip within a minute is several degrees, and a draught is less than this."""
ALIKE_CELSIUS = 1.5
ALLOWED_CELSIUS = 3.0
"""Of a class 2 probe (IEC 60584-1: 2.5 below 333 degC) and a bath on a table. Common practice, no source."""

Numbers = Mapping[str, float | None]
"""Ring -> degC, None where there was a fault."""


def by_hand(ring: str, before: Numbers, after: Numbers) -> tuple[bool, str]:
    """Whether this ring's number went up, and what else may have happened."""
    rises = {
        name: hot - cold for name, cold in before.items() if cold is not None and (hot := after.get(name)) is not None
    }
    if ring not in rises:
        return False, "it shows no number: look at its leads, with the kiln isolated"
    most = max(rises, key=lambda name: abs(rises[name]))
    if abs(rises[most]) < MOVED_CELSIUS:
        return False, "nothing moved: hold the bare tip, for a whole minute"
    if rises[most] < 0:
        return False, f"{most} fell by {-rises[most]:.1f}: its two wires are the wrong way round"
    if most != ring:
        return False, f"{most} rose instead, by {rises[most]:.1f}: these two probes are changed over"
    return True, f"rose by {rises[ring]:.1f}"


def by_water(ice: float | None, boiling: float | None, altitude_metres: float) -> tuple[bool, str]:
    """Both readings [degC] against 0 and the boiling point at this altitude [m]: right, an offset, or a bad probe."""
    if ice is None or boiling is None:
        return False, "it shows no number: look at its leads"
    wanted = boiling_celsius(altitude_metres)
    low, high = ice, boiling - wanted
    said = f"{ice:.1f} in ice, {boiling:.1f} where {wanted:.1f} boils"
    if abs(low - high) > ALIKE_CELSIUS:
        return False, f"{said}: off by {low:+.1f} and {high:+.1f}, so the probe is worn or its cable is of another type"
    off = (low + high) / 2
    if abs(off) > ALLOWED_CELSIUS:
        return (
            True,
            f"{said}: off by {off:+.1f} at both; offset_celsius = {-off:.1f} in the kiln's file takes that away",
        )
    return True, said
