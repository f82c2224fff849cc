"""What the watch says aloud, in the studio's own unit and zone. Pure, and outside the fold.

Each alarm: what is seen, where, how far from expected; what to do first. The first sentence fits a lock screen.
"""

from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, datetime, tzinfo

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.cones.kinetics import bend_degrees, bend_words
from spyhole.core.duty import NO_ANSWER
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.outcome import Action, AlarmOutcome, Facts, Forecast, PromptOutcome

Value = float | str | int | None
WEEKDAYS = ("Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday", "Sunday")


@dataclass(frozen=True, slots=True)
class Manner:
    """How one studio likes its numbers. unit: degC or degF. typeset: with the degree sign, for a page."""

    zone: tzinfo = UTC
    unit: str = "degC"
    typeset: bool = False

    def clock(self, utc_ms: Value) -> str:
        """`14:32` in the studio's zone; `an unknown time` for None."""
        if not isinstance(utc_ms, int):
            return "an unknown time"
        return datetime.fromtimestamp(utc_ms / 1000, self.zone).strftime("%H:%M")

    def when(self, utc_ms: int, now_utc_ms: int) -> str:
        """The clock, with the day where it is another than now's: `05:30 tomorrow`, `11:55 on Sunday`."""
        then, now = (datetime.fromtimestamp(ms / 1000, self.zone) for ms in (utc_ms, now_utc_ms))
        days = (then.date() - now.date()).days
        if days == 0:
            return self.clock(utc_ms)
        return f"{self.clock(utc_ms)} {'tomorrow' if days == 1 else f'on {WEEKDAYS[then.weekday()]}'}"

    def between(self, when: Forecast) -> str:
        """`13:21, between 13:12 and 13:33`."""
        return f"{self.clock(when.median)}, between {self.clock(when.low)} and {self.clock(when.high)}"

    def heat(self, celsius: Value) -> str:
        """`1041 degC`, whole degrees; `unknown` for None."""
        if not isinstance(celsius, (int, float)):
            return "unknown"
        unit = self.unit.replace("deg", "°") if self.typeset else self.unit
        return f"{round(celsius * 1.8 + 32 if self.unit == 'degF' else celsius)} {unit}"

    def difference(self, celsius: Value) -> str:
        """A difference or a climb in the unit's degrees, without its sign: `34`."""
        if not isinstance(celsius, (int, float)):
            return "unknown"
        return str(abs(round(celsius * 1.8 if self.unit == "degF" else celsius)))


DEFAULT = Manner()


def stands(alpha: Value) -> str:
    """Where a cone with this heat work stands, `down` at most: what a curve can tell."""
    return bend_words(bend_degrees(alpha)) if isinstance(alpha, (int, float)) else "unknown"


def title(outcome: AlarmOutcome | PromptOutcome) -> str:
    """The head of a message: the kiln's trouble in a few words."""
    if isinstance(outcome, PromptOutcome):
        return _PROMPT_TITLES[outcome.tag]
    return alarm_title(outcome.tag, outcome.ring)


def sentence(outcome: AlarmOutcome | PromptOutcome, manner: Manner = DEFAULT) -> str:
    """The whole text: at most three sentences."""
    if isinstance(outcome, PromptOutcome):
        return _PROMPTS[outcome.tag](dict(outcome.facts), manner)
    if outcome.action is Action.CLEAR:
        return f"Over: {title(outcome).lower()}."
    return f"{seen(outcome.tag, outcome.ring, outcome.facts, manner)} {CATALOGUE[outcome.tag].first}"


def seen(tag: str, ring: str | None, facts: Facts, manner: Manner = DEFAULT) -> str:
    """What is seen, where, how far from expected: the first sentence of an alarm."""
    return _SEEN[tag](dict(facts), ring or "", manner)


def alarm_title(tag: str, ring: str | None) -> str:
    """The same head for an alarm that is shown on the page."""
    return f"{_TITLES[tag]}{f', {ring} ring' if ring else ''}"


_TITLES = {
    "ceiling-passed": "Hotter than it should be",
    "kiln-limit": "Above the kiln's own limit",
    "guard-cone": "The guard cone is going over",
    "shutoff-overdue": "The shut-off has not dropped",
    "runaway": "Climbing too fast",
    "heat-lost": "The heat has gone",
    "fell-short": "Stopped short of the cone",
    "blind": "Nothing can be seen",
    "damp-hurry": "Damp ware is hurried",
    "power-back": "The heat has come back",
    "unplanned-heat": "The kiln is heating",
    "nobody-near": "Nobody has answered",
    "uneven": "The rings stand far apart",
    "cooling-fast": "Cooling too fast",
    "timer-short": "The backup timer ends too soon",
    "no-cone-left": "Lit again, without a cone",
    "probe-swapped": "Probes changed over",
    "box-hot": "The amplifier box is hot",
    "watch-clock": "The clock is not to be trusted",
    "watch-disk": "The disk is in trouble",
    "watch-store": "The record is in trouble",
    "watch-alerts": "Somebody could not be told",
    "watch-late": "Readings come late",
    "watch-gap": "Readings were missing",
    "still-on": "Still heating",
    "stall": "Hardly climbing",
    "ring-behind": "Falling behind",
    "probe-open": "Probe broken or loose",
    "probe-shorted": "Probe shorted",
    "probe-stuck": "Probe stuck",
    "probe-out": "Probe out of the kiln",
    "probe-reversed": "Probe wired the wrong way round",
    "probe-doubtful": "Probe in doubt",
    "probe-noisy": "Probe unsteady",
    "chip-silent": "Amplifier silent",
    "chip-forgot": "Amplifier restarted",
}

_FactMap = dict[str, Value]


def _number(value: Value) -> float:
    return float(value) if isinstance(value, (int, float)) else 0.0


def _expected(facts: _FactMap, manner: Manner) -> str:
    expected = facts.get("expected")
    if expected is None:
        return ""
    return f"; {manner.difference(expected)} was to be expected"


def _behind(facts: _FactMap, ring: str, manner: Manner) -> str:
    behind = facts.get("behind")
    where = ""
    if isinstance(behind, float) and behind >= 1.0:
        where = f"is {manner.difference(behind)} behind the others and "
    return f"The {ring} ring {where}{_moves(facts, manner)}{_expected(facts, manner)}."


def _moves(facts: _FactMap, manner: Manner) -> str:
    climb = facts.get("climb")
    if isinstance(climb, float) and climb < 0.0:
        return f"falls {manner.difference(-climb)} per hour"
    return f"climbs {manner.difference(climb)} per hour"


_SEEN: dict[str, Callable[[_FactMap, str, Manner], str]] = {
    "ceiling-passed": lambda f, _r, m: (
        f"The {f['hottest']} ring is at {m.heat(f['celsius'])}, past the {m.heat(f['limit'])} expected at most now."
    ),
    "kiln-limit": lambda f, _r, m: (
        f"The {f['hottest']} ring is at {m.heat(f['celsius'])}; this kiln is rated to {m.heat(f['limit'])}."
    ),
    "guard-cone": lambda f, _r, m: (
        f"By heat work the guard cone {f['cone']} is well over, and the kiln still heats at {m.heat(f['celsius'])}."
    ),
    "shutoff-overdue": lambda f, _r, m: (
        f"Cone {f['cone']} in the shut-off should be down, and the kiln still heats at {m.heat(f['celsius'])}."
    ),
    "runaway": lambda f, _r, m: (
        f"The {f['hottest']} ring climbs {m.difference(f['climb'])} per hour; "
        f"{m.difference(f['limit'])} is the most for now."
    ),
    "heat-lost": lambda f, _r, m: f"Every ring has been falling since {m.clock(f['since_utc_ms'])}.",
    "fell-short": lambda f, _r, m: (
        f"Stopped heating {m.clock(f['since_utc_ms'])}, peak {m.heat(f['peak'])}, "
        f"cone {f['cone']} {stands(f['alpha'])}."
    ),
    "blind": lambda _f, _r, _m: "No probe that can be believed is left.",
    "damp-hurry": lambda f, _r, m: (
        f"The {f['hottest']} ring climbs {m.difference(f['climb'])} per hour at {m.heat(f['celsius'])}, and steam may "
        f"not be past; {m.difference(f['limit'])} is the most for damp ware."
    ),
    "power-back": lambda f, _r, _m: (
        f"The kiln heats again after about {f['minutes']} minutes without heat, and nobody wrote down why."
    ),
    "unplanned-heat": lambda f, _r, m: (
        f"The {f['hottest']} ring is at {m.heat(f['celsius'])} and climbs {m.difference(f['climb'])} per hour, and no "
        "firing is on."
    ),
    "nobody-near": lambda f, _r, _m: (
        f"{f['who'] or 'Whoever holds the watch'} has not answered 'are you in reach?', and the kiln is on high."
    ),
    "uneven": lambda f, _r, m: (
        f"The {f['hottest']} ring is {m.difference(f['apart'])} hotter than the {f['coolest']} one; "
        f"the plan allows {m.difference(f['limit'])}."
    ),
    "cooling-fast": lambda f, _r, m: (
        f"The {f['hottest']} ring falls {m.difference(f['climb'])} per hour at {m.heat(f['celsius'])}; "
        f"{m.difference(f['limit'])} is the most for now."
    ),
    "timer-short": lambda f, _r, m: (
        f"The backup timer runs out at {m.clock(f['ends_utc_ms'])}, and cone {f['cone']} is down "
        + (f"about {m.clock(f['down_utc_ms'])}." if f["down_utc_ms"] is not None else "only hours later.")
    ),
    "no-cone-left": lambda f, _r, m: (
        f"The kiln heats again at {m.heat(f['celsius'])} after its shut-off has tripped: the small cone is spent."
    ),
    "probe-swapped": lambda f, r, _m: (
        f"The {r} probe answers to another ring's switch: {f.get('one', r)} and {f.get('other', 'another')} seem "
        "changed over."
    ),
    "box-hot": lambda f, _r, m: (
        f"The amplifier of the {f['hottest']} ring is at {m.heat(f['celsius'])}."
        if f.get("celsius") is not None
        else "The amplifiers are too hot."
    ),
    "watch-clock": lambda f, _r, _m: (
        "The wall clock has stepped." if f.get("stepped") else "No time source has set the clock for an hour or more."
    ),
    "watch-disk": lambda _f, _r, _m: "The disk has little or no room, or cannot be written.",
    "watch-store": lambda _f, _r, _m: "The record cannot be written as it should.",
    "watch-alerts": lambda _f, _r, _m: "A message could not be delivered.",
    "watch-late": lambda _f, _r, _m: "A change in the kiln is seen late too.",
    "watch-gap": lambda f, _r, _m: f"For {f.get('minutes', 'some')} minutes there were no readings.",
    "still-on": lambda f, _r, m: (
        f"The {f['hottest']} ring climbs {m.difference(f['climb'])} per hour at {m.heat(f['celsius'])}, "
        "though the firing is over."
        if _number(f["climb"]) > 0.0
        else f"The {f['hottest']} ring hardly falls at {m.heat(f['celsius'])} while the others do: it may still be on."
    ),
    "stall": lambda f, _r, m: f"The kiln {_moves(f, m)} at {m.heat(f['celsius'])}{_expected(f, m)}.",
    "ring-behind": _behind,
    "probe-open": lambda _f, r, _m: f"The {r} probe has no circuit.",
    "probe-shorted": lambda _f, r, _m: f"The {r} probe reads the amplifier, not the kiln.",
    "probe-stuck": lambda f, r, m: f"The {r} probe has not moved from {m.heat(f['celsius'])} while the kiln has.",
    "probe-out": lambda f, r, m: f"The {r} probe reads {m.heat(f['celsius'])}, as if it hung in the room.",
    "probe-reversed": lambda _f, r, _m: f"The {r} probe falls while the kiln climbs.",
    "probe-doubtful": lambda f, r, m: (
        f"The {r} probe has gone where the kiln cannot have gone; it last made sense at {m.heat(f['from'])}."
        if f.get("from") is not None
        else f"The {r} probe gives numbers that cannot be believed."
    ),
    "probe-noisy": lambda _f, r, _m: f"The {r} probe jumps too much to be believed.",
    "chip-silent": lambda _f, r, _m: f"The amplifier of the {r} ring does not answer.",
    "chip-forgot": lambda _f, r, _m: f"The amplifier of the {r} ring had lost its settings and was set again.",
}

_PROMPT_TITLES = {
    "turn-due": "Time to turn",
    "turn-near": "A turn is near: are you in reach?",
    "cone-down": "The cone should be down",
    "cone-doubted": "Look at that cone again",
    "turn-doubted": "Was that turn made?",
    "in-reach": "Are you in reach?",
    "steam-past": "Steam seems past",
    "shut-off-seen": "It has shut off",
    "crack-lid": "The lid may be cracked",
    "open-lid": "The lid may be opened",
    "unload": "Cool enough to unload",
}


def _shut_off(facts: _FactMap, manner: Manner) -> str:
    cone = f"cone {facts['cone']} {stands(facts['alpha'])}"
    return (
        f"Stopped heating {manner.clock(facts['off_utc_ms'])}, peak {manner.heat(facts['peak'])}, {cone}. "
        "Every switch off now; lid and plugs stay shut."
    )


def turned_words(turns: Value) -> str:
    """`the bottom and middle rings went to high`, of `bottom high, middle high`."""
    by_setting: dict[str, list[str]] = {}
    for one in str(turns).split(", "):
        ring, _, setting = one.rpartition(" ")
        by_setting.setdefault(setting, []).append(ring)
    return " and ".join(
        f"the {', '.join(rings[:-1])} and {rings[-1]} rings went to {setting}"
        if len(rings) > 1
        else f"the {rings[0]} ring went to {setting}"
        for setting, rings in by_setting.items()
    )


def _turn_doubted(facts: _FactMap, manner: Manner) -> str:
    turned, at = turned_words(facts["turns"]), manner.clock(facts["at_utc_ms"])
    if not facts["by_curve"]:
        return f"It is written down that {turned} at {at}, and the curve shows no such turn. Was it made then?"
    written = f"written down is {facts['written']}" if facts["written"] else "nobody wrote it down"
    return f"The curve says that {turned} at about {at}; {written}. Was it so?"


_PROMPTS: dict[str, Callable[[_FactMap, Manner], str]] = {
    "turn-due": lambda f, _m: (
        f"Time for {f['stage']}: {f['turns'] or 'every switch stays'}."
        + (" Whoever holds the watch has not answered." if f.get("answer") == NO_ANSWER else "")
    ),
    "turn-near": lambda f, m: (
        f"About {m.clock(f['due_utc_ms'])} it is time for {f['stage']}: {f['turns'] or 'every switch stays'}. "
        "Are you in reach of the kiln? Answer, or hand the watch over."
    ),
    "cone-down": lambda f, m: (
        f"By heat work cone {f['cone']} is about down, at {m.heat(f['celsius'])}. "
        "Look in with infrared glasses, shade about 2, and stay until the shut-off drops."
    ),
    "cone-doubted": lambda f, _m: (
        f"Cone {f['cone']} was written down as {f['stands']}, and by heat work that cannot be. It is left out: look "
        "again, at cone and ring in the entry too. If it is so, this probe is badly wrong: go by your cones."
    ),
    "turn-doubted": _turn_doubted,
    "in-reach": lambda f, m: (
        f"{str(f['why'])[:1].upper()}{str(f['why'])[1:]}"
        + (f", about {m.clock(f['down_utc_ms'])}" if f["down_utc_ms"] is not None and "cone" in str(f["why"]) else "")
        + ". Are you in reach of the kiln? Answer, or hand the watch over."
    ),
    "steam-past": lambda f, _m: (
        f"Steam seems past on the {f['rings']} ring. Hold a mirror to the top plug: if it mists, wait. "
        "Keep your face out of the steam."
    ),
    "shut-off-seen": _shut_off,
    "crack-lid": lambda f, m: (
        f"Below {m.heat(f['below'])}: the lid may be cracked. Prop it securely and keep your face out of the hot air."
    ),
    "open-lid": lambda f, m: f"Below {m.heat(f['below'])}: the lid may be opened. The shelves are still hot.",
    "unload": lambda f, m: (
        f"Below {m.heat(f['below'])}: cool enough to unload. Isolate at the wall first; shards and glaze runs cut."
    ),
}


def mark(what: Entry | AlarmOutcome | PromptOutcome, manner: Manner = DEFAULT) -> str:
    """A few words for the time axis and the list of what happened."""
    if isinstance(what, Entry):
        return entry(what)
    if isinstance(what, PromptOutcome):
        return f"{title(what)}."
    return f"{title(what)}: {seen(what.tag, what.ring, what.facts, manner)}"


def entry(what: Entry) -> str:
    """An entry as its keeper would say it."""
    match what.kind:
        case EntryKind.START:
            return f"Lit, for cone {what.value}"
        case EntryKind.SWITCH:
            return f"{what.subject.capitalize()} to {what.value}"
        case EntryKind.PLUGS:
            return f"{what.subject.capitalize()} plug {what.value}" if what.subject else f"Plugs {what.value}"
        case EntryKind.LID:
            return f"Lid {what.value}"
        case EntryKind.TIMER:
            return f"Timer wound, {what.value} minutes"
        case EntryKind.SHUTOFF:
            return f"Shut-off {what.value}"
        case EntryKind.POWER:
            return f"Power {what.value}"
        case EntryKind.CONE:
            cone, _, bend = what.value.partition(":")
            bent = bend if bend in ("down", "flat") else f"bent {bend} degrees"
            return f"Seen at the {what.subject} ring: cone {cone} {bent}"
        case EntryKind.NOTE:
            return what.value
        case EntryKind.MAINTENANCE:
            return f"{what.subject.capitalize()} ring: {what.value}" if what.subject else what.value.capitalize()
        case EntryKind.LESSON:
            return "The kiln's model learns from this firing" if what.value == "keep" else "This firing teaches nothing"
        case EntryKind.PHOTO:
            return "Photograph of the cones"
