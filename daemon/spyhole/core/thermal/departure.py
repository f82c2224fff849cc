"""The kiln model as it was over the last hour and a half, kept to tell a probe that departs from its kiln."""

from dataclasses import dataclass, replace

from spyhole.core.thermal.model import Told


@dataclass(frozen=True, slots=True)
class Past:
    """The model at one time [axis ms]: node temperatures [degC], and logarithms of the parameters."""

    at_ms: int
    celsius: tuple[float, ...]
    logs: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class Memory:
    """pasts: oldest first. told: what the kiln was told since the oldest. apart: each probe's departure against the
    others' when that was last judged. odd_ms: when the kiln itself last did what no drift does. changed_ms: the last
    turn; after_odd_ms: the last one that came while the kiln was odd: what the model makes of it is worth little.
    odd_from_ms: when it began to; odd_earlier_ms: when it last did before that. again: it was heated again after its
    end, of which the model was told nothing; odd_before_end: it was odd while it heated. left: probes whose ring
    has done since the last turn what it would had it not been turned. drifts: the probe that seemed to drift when that
    was last asked. slips: the probe that lately fell as no ring does, which may come to rest or not.
    """

    told: Told
    pasts: tuple[Past, ...] = ()
    apart: tuple[float, ...] = ()
    judged_ms: int = 0
    odd_ms: int | None = None
    changed_ms: int = 0
    after_odd_ms: int | None = None
    odd_from_ms: int | None = None
    again: bool = False
    odd_earlier_ms: int | None = None
    odd_before_end: bool = False
    left: tuple[int, ...] = ()
    drifts: int | None = None
    slips: int | None = None

    def since(self, from_ms: int) -> "Memory":
        """With the newest past that is as old as that for its first, if there is one, and what was told since it."""
        pasts = self.pasts
        while len(pasts) > 1 and pasts[1].at_ms <= from_ms:
            pasts = pasts[1:]
        return replace(self, pasts=pasts, told=_told_since(self.told, pasts[0].at_ms) if pasts else self.told)


def joined(known: Told, told: Told, at_ms: int) -> Told:
    """What was known to have been told, with what is told now: that replaces what came after its beginning. at_ms: from
    when on what is new in it holds, where it does not say so itself."""
    if told == known[-len(told) :]:
        return known
    from_ms = told[1][0] if len(told) > 1 else at_ms
    # A turn may be told of a time before the model began: nothing that was known holds then.
    known = (*(tuple(t for t in known if t[0] < from_ms) or told[:1]), *told[1:])
    return known if known[-1][1] == told[-1][1] else (*known, (at_ms, told[-1][1]))


def _told_since(told: Told, from_ms: int) -> Told:
    """What was told from then on, with what held until then."""
    while len(told) > 1 and told[1][0] <= from_ms:
        told = told[1:]
    return told
