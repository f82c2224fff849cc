"""The kiln model as it was over the last hour, kept to tell a probe that departs from its kiln."""

from dataclasses import dataclass

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
    has done since the last turn what it would had it not been turned.
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
