"""What is wrong with a probe, by its faults and by the doubts that the rings' vote left."""

from spyhole.core.alarms.book import Judgement
from spyhole.core.curve.climb import value_at
from spyhole.core.curve.track import BREAKS, Track
from spyhole.core.curve.trust import Reason
from spyhole.core.kiln import Switch
from spyhole.core.outcome import Facts
from spyhole.core.reading import Fault
from spyhole.core.view import View

NEVER_BELIEVED_MS = 300_000
FLICKERS = (Fault.OPEN, Fault.SHORT, Fault.BUS)
FLICKERS_MS = 20 * 60_000
"""A wire that breaks again and again within this is loose, though no break lasts (chosen)."""
SWAPPED_LIT_MS, SWAPPED_AFTER_MS = 8 * 60_000, 35 * 60_000
LIT_MS = 10 * 60_000
"""A kiln that has just been lit has no other heat to confuse it: there the two are told so long after. Later a turn
written down late, or one ring of a turn not at all, looks like it for half an hour (chosen)."""
SWAPPED_CELSIUS = 15.0

TAG_OF_FAULT = {
    Fault.OPEN: "probe-open",
    Fault.SHORT: "probe-shorted",
    Fault.RANGE: "probe-doubtful",
    Fault.UNSURE: "probe-doubtful",
    Fault.BUS: "chip-silent",
    Fault.CONFIG: "chip-forgot",
}
PROBE_TAGS = tuple(dict.fromkeys((*TAG_OF_FAULT.values(), *(f"probe-{r.value}" for r in Reason))))


def blind(view: View) -> Judgement:
    """No trusted probe is left in a lit firing."""
    lit = not view.firing.off or any(p > 100.0 for p in view.firing.peaks)
    return Judgement("blind", None, lit and not any(view.fit))


def probes(view: View) -> tuple[Judgement, ...]:
    """One judgement a tag and probe."""
    found = []
    for i, (track, doubt) in enumerate(zip(view.tracks, view.doubts, strict=True)):
        ring = view.ring_name(i)
        tags = set()
        if track.fault is not None:
            tags.add(TAG_OF_FAULT[track.fault])
        elif (flickers := _flickers(track, view.now_ms)) is not None:
            tags.add(TAG_OF_FAULT[flickers])
        elif doubt is not None:
            tags.add(f"probe-{doubt.reason.value}")
        elif track.aside_at_ms is not None and view.now_ms - (track.at_ms or 0) > NEVER_BELIEVED_MS:
            # Nothing it says agrees with anything it said.
            tags.add("probe-noisy")
        facts: Facts = (("celsius", track.celsius), ("from", doubt.from_celsius if doubt else None))
        found += [Judgement(tag, ring, tag in tags, facts if tag in tags else ()) for tag in PROBE_TAGS]
    return tuple(found)


def _flickers(track: Track, now_ms: int) -> Fault | None:
    """The fault of a wire that makes and breaks; None where it broke seldom."""
    if len(track.broke) < BREAKS or now_ms - track.broke[0][0] > FLICKERS_MS:
        return None
    last = track.broke[-1][1]
    return last if last in FLICKERS else None


def swapped(view: View) -> tuple[Judgement, ...]:
    """While some switches are on and others off, a probe whose ring is off warms more than one whose ring is on."""
    firing = view.firing
    none = tuple(Judgement("probe-swapped", view.ring_name(i), None) for i in range(len(view.tracks)))
    lit = firing.stage == 0 and firing.changed_ms - firing.started_ms < LIT_MS
    settled = view.now_ms - firing.changed_ms > (SWAPPED_LIT_MS if lit else SWAPPED_AFTER_MS)
    on = [i for i, fit in enumerate(view.fit) if fit and view.switched(i) is not Switch.OFF]
    off = [i for i, fit in enumerate(view.fit) if fit and view.switched(i) is Switch.OFF]
    if firing.off or not settled or not on or not off:
        return none
    gained = {i: _gained(view, i) for i in (*on, *off)}
    if any(g is None for g in gained.values()):
        return none
    rose = {i: g for i, g in gained.items() if g is not None}
    cold, hot = min(on, key=rose.__getitem__), max(off, key=rose.__getitem__)
    wrong = rose[hot] > 1.4 * max(rose[cold], 0.0) + SWAPPED_CELSIUS
    facts: Facts = (("one", view.ring_name(cold)), ("other", view.ring_name(hot)))
    return tuple(
        Judgement("probe-swapped", view.ring_name(i), wrong and i in (cold, hot), facts if i in (cold, hot) else ())
        for i in range(len(view.tracks))
    )


def _gained(view: View, probe: int) -> float | None:
    """degC since this stage's switches were turned."""
    track = view.tracks[probe]
    before = value_at(track.minutes, view.firing.changed_ms)
    if before is None:
        before = track.first_celsius if view.firing.stage == 0 else None
    return None if before is None or track.celsius is None else track.celsius - before
