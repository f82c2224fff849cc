"""Numbers for whoever collects them: the text form of Prometheus, version 0.0.4."""

from collections.abc import Iterator

from spyhole.services.snapshot import Snapshot

MEDIA_TYPE = "text/plain; version=0.0.4; charset=utf-8"

HELP = {
    "spyhole_ring_celsius": "Temperature of a ring [degC]; absent while its probe has no number.",
    "spyhole_ring_climb_celsius_per_hour": "Climb of a ring [degC/h]; absent while it cannot be told.",
    "spyhole_ring_age_seconds": "Since a ring had a number [s, of the kiln's clock].",
    "spyhole_firing_heating": "1 while the firing under way heats, 0 while it cools; absent between firings.",
    "spyhole_alarm": "1 for an alarm that stands, with its priority and state.",
    "spyhole_watch_trouble": "1 for something that ails the watch itself.",
    "spyhole_silent_seconds": "Since anything was heard from the watch [s, of this machine's clock].",
}
"""Every figure, and what it is."""

Labels = tuple[tuple[str, str], ...]


def exposition(now: Snapshot, silent_seconds: float) -> str:
    """Each figure with its help and type, then its samples. A ring without a number has none, never zero or NaN."""
    lines: list[str] = []
    for name, words in HELP.items():
        lines += [f"# HELP {name} {words}", f"# TYPE {name} gauge"]
        lines += [_sample(name, labels, value) for labels, value in _samples(name, now, silent_seconds)]
    return "\n".join(lines) + "\n"


def _samples(name: str, now: Snapshot, silent_seconds: float) -> Iterator[tuple[Labels, float]]:
    kiln = ("kiln", now.kiln)
    match name:
        case "spyhole_ring_celsius":
            yield from (((kiln, ("ring", r.name)), r.celsius) for r in now.rings if r.celsius is not None)
        case "spyhole_ring_climb_celsius_per_hour":
            yield from (((kiln, ("ring", r.name)), r.climb) for r in now.rings if r.climb is not None)
        case "spyhole_ring_age_seconds":
            for ring in now.rings:
                if ring.seen_utc_ms is not None:
                    yield (kiln, ("ring", ring.name)), (now.now_utc_ms - ring.seen_utc_ms) / 1000
        case "spyhole_firing_heating":
            if now.firing is not None:
                yield (kiln,), float(now.firing.heating)
        case "spyhole_alarm":
            for alarm in now.alarms:
                told = (("tag", alarm.tag), ("priority", alarm.priority), ("state", alarm.state))
                yield (kiln, ("episode", alarm.episode), ("ring", alarm.ring or ""), *told), 1.0
        case "spyhole_watch_trouble":
            yield from (((kiln, ("code", each.code)), 1.0) for each in now.conditions)
        case _:
            yield (kiln,), silent_seconds


def _sample(name: str, labels: Labels, value: float) -> str:
    inner = ",".join(f'{label}="{_escaped(words)}"' for label, words in labels)
    return f"{name}{{{inner}}} {value:.10g}"


def _escaped(words: str) -> str:
    return words.replace("\\", "\\\\").replace('"', '\\"').replace("\n", "\\n")
