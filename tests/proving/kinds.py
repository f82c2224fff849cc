"""The kinds of firing: what is healthy, and each trouble with what is right to say of it.

Judged as a good technician would who knows everything (the truth of the simulator), not by what the watch can do.
"""

from dataclasses import dataclass

HEALTHY = (
    "plain", "bisque", "glaze", "warm-start", "cold-room", "hot-room", "long-candle", "plug-peeks",
    "lid-propped-candling", "late-keeper", "early-keeper", "nothing-logged", "wrong-entries", "logged-late",
    "timer-extended", "cycling-switches", "sag", "unequal-rings", "aged-elements", "dense-load", "near-empty",
    "wet-with-care", "probe-lag", "one-probe", "two-probes", "clock-step", "gap-in-readings", "restart",
    "noise-spikes", "power-blip", "guide-cone", "one-ring", "many-rings", "soak", "cooling-hold", "ramp",
    "three-stages", "five-stages", "low-cone", "high-cone", "off-by-hand", "first-firing", "night-relay",
)  # fmt: skip
"""off-by-hand: a kiln without a cone shut-off. night-relay: two short cuts of the mains, too short to matter."""


@dataclass(frozen=True, slots=True)
class Trouble:
    """accepted: tags of the right family. also: consequences allowed beside them, from `Fired.begun` on.

    stage, after: when it begins, minutes into a stage, but before half of that stage as it went last time. Stages
    beyond the plan: BEFORE lighting, at an EVENT that physics decides, after the END of heating. minutes: later than
    this is late. where: the rings that may be named, "" for any. probes: needs so many. plain: it shows in rows, faults
    or the plan, so need not show in temperatures.
    """

    accepted: frozenset[str]
    also: frozenset[str]
    stage: int
    after: float
    minutes: float
    where: str
    probes: int
    plain: bool


BEFORE, EVENT, END, CANDLING, LOW, MEDIUM, HIGH = -1, 9, 10, 0, -4, -3, -2
"""LOW, MEDIUM, HIGH count from the plan's last stage, for plans have one to five."""


def _t(
    accepted: str,
    stage: int,
    after: float,
    minutes: float,
    also: str = "",
    *,
    where: str = "",
    probes: int = 1,
    plain: bool = False,
) -> Trouble:
    return Trouble(frozenset(accepted.split()), frozenset(also.split()), stage, after, minutes, where, probes, plain)


SICK = "probe-open probe-shorted probe-stuck probe-out probe-reversed probe-doubtful probe-noisy chip-silent blind"
OVER = "shutoff-overdue guard-cone ceiling-passed kiln-limit timer-short still-on"
SLOW = "stall uneven ring-behind timer-short fell-short heat-lost"
LET_GO = "heat-lost power-back"
"""Somebody turns a switch back and writes nothing: the kiln falls, and climbs again later."""
LOST = "heat-lost fell-short stall timer-short power-back"
TROUBLES = {
    # The kiln does too much.
    "shutoff-jams": _t("shutoff-overdue guard-cone ceiling-passed", EVENT, 0, 45, OVER),
    "kiln-limit": _t("kiln-limit", EVENT, 0, 15, OVER, plain=True),
    "ceiling": _t("ceiling-passed runaway", MEDIUM, 0, 75, "uneven runaway damp-hurry", probes=2),
    "night-switch-high": _t("damp-hurry runaway ceiling-passed", CANDLING, 0, 60, "uneven ring-behind " + LET_GO,
                            probes=2),
    "damp-turned-up": _t("damp-hurry runaway", CANDLING, 60, 45, "ceiling-passed uneven " + LET_GO),
    "runaway": _t("runaway damp-hurry ceiling-passed", LOW, 20, 45, "uneven " + LET_GO),
    "still-on": _t("still-on", END, 1, 45, OVER + " uneven cooling-fast", probes=3),
    "unplanned-heat": _t("unplanned-heat", BEFORE, 20, 45, "", plain=True),
    "relit-after-trip": _t("no-cone-left still-on", END, 20, 45, OVER + " " + LOST + " no-cone-left"),
    # Too little.
    "ring-opens": _t("ring-behind uneven", HIGH, 40, 45, SLOW, where="middle", probes=3),
    "ring-fuse-medium": _t("ring-behind uneven", MEDIUM, 30, 45, SLOW, where="middle", probes=3),
    "half-element": _t("ring-behind uneven", HIGH, 40, 60, SLOW, where="middle", probes=3),
    "lid-ajar": _t("stall ring-behind uneven", HIGH, 40, 60, SLOW, where="last", probes=2),
    "switch-left-low": _t("ring-behind uneven", HIGH, 0, 60, SLOW, where="last", probes=3),
    "uneven": _t("uneven ring-behind", EVENT, 0, 30, SLOW, probes=3, plain=True),
    "power-lost": _t("heat-lost fell-short", HIGH, 50, 15, LOST),
    "power-lost-medium": _t("heat-lost fell-short", MEDIUM, 30, 15, LOST),
    "power-lost-night": _t("heat-lost", CANDLING, 180, 60, LOST),
    "power-back": _t("power-back", HIGH, 80, 20, LOST, plain=True),
    "timer-ran-out": _t("heat-lost fell-short", HIGH, 60, 15, LOST),
    "tripped-early": _t("fell-short heat-lost", HIGH, 70, 20, LOST),
    "stall-sag": _t("stall", HIGH, 60, 45, "timer-short fell-short heat-lost"),
    "elements-tired": _t("stall", HIGH, 45, 60, "timer-short fell-short heat-lost"),
    "timer-short": _t("timer-short", HIGH, 10, 15, LOST, plain=True),
    "lid-opened-hot": _t("cooling-fast", END, 60, 30, ""),
    "cools-too-fast": _t("cooling-fast", EVENT, 0, 30, "", plain=True),
    # A probe is wrong.
    "probe-open": _t("probe-open", HIGH, 30, 5, SICK, where="sick", plain=True),
    "probe-open-night": _t("probe-open", CANDLING, 100, 5, SICK, where="sick", plain=True),
    "probe-shorted": _t("probe-shorted probe-doubtful", HIGH, 30, 15, SICK, where="sick"),
    "probe-stuck": _t("probe-stuck probe-doubtful", MEDIUM, 40, 45, SICK, where="sick", probes=2),
    "probe-out": _t("probe-out probe-doubtful", HIGH, 30, 15, SICK, where="sick"),
    "probe-reversed": _t("probe-reversed probe-doubtful", CANDLING, 0, 120, SICK, where="sick", probes=2),
    "probe-swapped": _t("probe-swapped probe-doubtful", CANDLING, 0, 240, SICK + " ring-behind", where="ends",
                        probes=3),
    "probe-noisy": _t("probe-noisy probe-doubtful", MEDIUM, 30, 20, SICK, where="sick"),
    "drift-down": _t("probe-doubtful", MEDIUM, 30, 60, SICK + " " + OVER, where="sick", probes=3),
    "drift-up": _t("probe-doubtful", MEDIUM, 30, 60, SICK, where="sick", probes=3),
    "probe-step": _t("probe-doubtful", HIGH, 30, 30, SICK, where="sick", probes=3),
    "probe-slipped": _t("probe-doubtful probe-out", HIGH, 35, 30, SICK, where="sick", probes=3),
    "probe-flickers": _t("probe-open probe-noisy probe-doubtful", MEDIUM, 35, 30, SICK, where="sick", plain=True),
    "blind": _t("blind", HIGH, 30, 15, SICK, plain=True),
    "chip-silent": _t("chip-silent", MEDIUM, 30, 5, SICK, where="sick", plain=True),
    "chip-forgot": _t("chip-forgot", MEDIUM, 30, 15, SICK, where="sick", plain=True),
    # The watch, or who holds it.
    "box-hot": _t("box-hot", EVENT, 0, 30, SICK, plain=True),
    "nobody-near": _t("nobody-near", HIGH, 0, 90, "", plain=True),
    "gap": _t("watch-gap watch-late", EVENT, 0, 15, "watch-gap watch-late", plain=True),
    "watch-clock": _t("watch-clock", MEDIUM, 20, 15, "", plain=True),
    "watch-disk": _t("watch-disk", MEDIUM, 20, 5, "", plain=True),
    "watch-store": _t("watch-store", MEDIUM, 20, 5, "", plain=True),
    "watch-alerts": _t("watch-alerts", MEDIUM, 20, 5, "", plain=True),
    "watch-late": _t("watch-late", MEDIUM, 20, 5, "", plain=True),
}  # fmt: skip
WATCH_ROWS = ("watch-clock", "watch-disk", "watch-store", "watch-alerts", "watch-late")
"""The watch finds these in itself outside the fold, and tells the fold by a row."""

ALONE = dict.fromkeys(("ring-opens", "ring-fuse-medium", "switch-left-low"), ("stall", "heat-lost"))
"""What is right too where one probe is all there is: nobody can tell then one ring from all of them."""

FAMILY = {
    "ceiling-passed": "overfire", "kiln-limit": "overfire", "guard-cone": "overfire", "shutoff-overdue": "overfire",
    "runaway": "runaway", "damp-hurry": "runaway", "heat-lost": "heat_lost", "power-back": "heat_lost",
    "fell-short": "underfire", "still-on": "still_on", "unplanned-heat": "still_on", "nobody-near": "presence",
    "no-cone-left": "presence", "stall": "stall", "ring-behind": "uneven", "uneven": "uneven",
    "cooling-fast": "cooling", "timer-short": "timer",
} | dict.fromkeys(("blind", "chip-silent", "chip-forgot"), "probe") | {"box-hot": "watch"}  # fmt: skip


def family_of(tag: str) -> str:
    """The family of a tag, as the catalogue of tags has it."""
    return FAMILY.get(tag, tag.split("-", maxsplit=1)[0])
