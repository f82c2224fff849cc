"""What was different from the last firing like this one."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class Last:
    """What is compared. stages: (name, hours). how: as in `story.Ending`. alpha: of the reference ring."""

    id: int
    started_utc_ms: int
    stages: tuple[tuple[str, float], ...]
    heating_hours: float | None
    how: str | None
    peak_celsius: float | None
    alpha: float | None
    kwh: float


@dataclass(frozen=True, slots=True)
class Difference:
    """One figure then and now. what: `stage`, `heating` [h], `peak` [degC], `work` [-], `energy` [kWh], `end` (words).

    subject: the name of a stage. matters: large enough to be told apart from how a keeper fires (common practice, no
    source).
    """

    what: str
    subject: str
    before: float | str | None
    now: float | str | None
    matters: bool


NOTICED = {"stage": 0.25, "heating": 0.5, "peak": 5.0, "work": 0.15}
NOTICED_SHARE_OF_ENERGY = 0.03


def differences(before: Last, now: Last) -> tuple[Difference, ...]:
    """Every figure that both firings have, and those only one has; nothing while the firing is under way."""
    if now.heating_hours is None:
        return ()
    then = dict(before.stages)
    found = [_one("stage", name, then.get(name), hours) for name, hours in now.stages]
    found += [_one("stage", name, hours, None) for name, hours in before.stages if name not in dict(now.stages)]
    found.append(_one("heating", "", before.heating_hours, now.heating_hours))
    found.append(_one("peak", "", before.peak_celsius, now.peak_celsius))
    found.append(_one("work", "", before.alpha, now.alpha))
    share = abs(now.kwh - before.kwh) > NOTICED_SHARE_OF_ENERGY * before.kwh
    found.append(Difference("energy", "", before.kwh, now.kwh, share))
    found.append(Difference("end", "", before.how, now.how, before.how != now.how))
    return tuple(found)


def _one(what: str, subject: str, before: float | None, now: float | None) -> Difference:
    if before is None or now is None:
        return Difference(what, subject, before, now, before is not now)
    return Difference(what, subject, before, now, abs(now - before) >= NOTICED[what])
