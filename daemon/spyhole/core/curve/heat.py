"""Heat work of the pack (guide, firing, guard, shut-off) at every ring that has a probe."""

from dataclasses import dataclass, replace
from functools import lru_cache
from statistics import fmean

from spyhole.core.cones.doubt import corrected_alpha
from spyhole.core.cones.kinetics import Cone, cone, guard_of, guide_of, heat_work
from spyhole.core.cones.shutoff import shutoff_cone
from spyhole.core.curve.track import Track
from spyhole.core.learned import Belief
from spyhole.core.plan import Body

FORGETS_MINUTES = 120.0
"""In about this time a ring that no probe sees any more comes to stand where the others do (chosen, no source)."""


@dataclass(frozen=True, slots=True)
class Pack:
    """The cones of a firing. guide and guard are None where the chart ends."""

    guide: Cone | None
    firing: Cone
    guard: Cone | None
    shutoff: Cone


@lru_cache(maxsize=32)
def pack_of(firing: str, body: Body, shutoff: str, late: Belief | None = None) -> Pack:
    """The pack of a firing cone; the small one in the shut-off is a cone of its own, as late as this kiln's is."""
    target = cone(firing, body)
    return Pack(guide_of(target), target, guard_of(target), shutoff_cone(shutoff, late))


@dataclass(frozen=True, slots=True)
class Work:
    """Heat work gained by one ring so far; 1 is down. bridged: part of it over a gap, by interpolation."""

    at_ms: int | None = None
    celsius: float | None = None
    guide: float = 0.0
    firing: float = 0.0
    guard: float = 0.0
    shutoff: float = 0.0
    bridged: bool = False


def gain(work: Work, pack: Pack, at_ms: int, celsius: float) -> Work:
    """The work after reaching this temperature at this time, by the straight ramp from the last one."""
    if work.at_ms is None or work.celsius is None or at_ms <= work.at_ms:
        return Work(at_ms, celsius, work.guide, work.firing, work.guard, work.shutoff, work.bridged)
    seconds, before = (at_ms - work.at_ms) / 1000, work.celsius

    def more(one: Cone | None) -> float:
        return 0.0 if one is None else heat_work(one, before, celsius, seconds)

    return Work(
        at_ms,
        celsius,
        work.guide + more(pack.guide),
        work.firing + more(pack.firing),
        work.guard + more(pack.guard),
        work.shutoff + more(pack.shutoff),
        work.bridged or seconds > 180.0,
    )


def corrected_work(work: Work, pack: Pack, peak_celsius: float, offset_celsius: float) -> Work:
    """The same work with the probe moved by an offset [degC], as cones that were seen have taught."""
    if offset_celsius == 0.0:
        return work

    def moved(one: Cone | None, alpha: float) -> float:
        return 0.0 if one is None else corrected_alpha(one, alpha, peak_celsius, offset_celsius)

    return replace(
        work,
        guide=moved(pack.guide, work.guide),
        firing=moved(pack.firing, work.firing),
        guard=moved(pack.guard, work.guard),
        shutoff=moved(pack.shutoff, work.shutoff),
    )


def borrowed(tracks: tuple[Track, ...], fit: tuple[bool, ...], apart: tuple[float, ...]) -> tuple[float | None, ...]:
    """Each ring's temperature [degC], its own where trusted, else the others' plus how far apart it used to be.

    apart: each ring's usual distance from the mean of the trusted rings.
    """
    known = [(t.celsius or 0.0, apart[i]) for i, t in enumerate(tracks) if fit[i]]
    if not known:
        return (None,) * len(tracks)
    level = fmean(celsius - offset for celsius, offset in known)
    return tuple(t.celsius if fit[i] else level + apart[i] for i, t in enumerate(tracks))


def usual(tracks: tuple[Track, ...], fit: tuple[bool, ...], apart: tuple[float, ...]) -> tuple[float, ...]:
    """`apart` after one minute: a slow mean (about ten minutes) over the trusted rings.

    What a ring that is not seen stood apart is worth less with the hours: switches are turned, and rings draw together.
    """
    known = [t.celsius or 0.0 for i, t in enumerate(tracks) if fit[i]]
    if not known:
        return apart
    level = fmean(known)
    shift = fmean(apart[i] for i in range(len(tracks)) if fit[i])

    def after(i: int, track: Track, before: float) -> float:
        if not fit[i]:
            return before + (shift - before) / FORGETS_MINUTES
        return before if len(known) < 2 else before + 0.1 * ((track.celsius or 0.0) - level + shift - before)

    return tuple(after(i, track, before) for i, (track, before) in enumerate(zip(tracks, apart, strict=True)))
