"""The troubles a rehearsal can throw in, each declared once."""

from dataclasses import dataclass

CANDLING, LAST = 0, -1


@dataclass(frozen=True, slots=True)
class Trouble:
    """name: as on the command line. sentence: for the panel.

    minutes_into_stage: when it comes if it was asked for at the start; None means before lighting. stage: into which,
    as an index of the plan's.
    """

    name: str
    sentence: str
    minutes_into_stage: float | None = None
    stage: int = LAST


NONE = "none"
SHUTOFF_JAMS = "shutoff-jams"
RING_DIES = "ring-dies"
SWITCH_LEFT_LOW = "switch-left-low"
NIGHT_SWITCH_HIGH = "night-switch-high"
PROBE_OPEN = "probe-open"
PROBE_PULLED_OUT = "probe-pulled-out"
POWER_CUT = "power-cut"
POWER_CUT_NIGHT = "power-cut-night"

POWER_CUT_MINUTES = {POWER_CUT: 40, POWER_CUT_NIGHT: 150}

TROUBLES = (
    Trouble(NONE, "Everything mended: the shut-off is free, elements and probes are sound, the power is on."),
    Trouble(SHUTOFF_JAMS, "The shut-off jams: its cone goes down and the kiln heats on."),
    Trouble(RING_DIES, "The middle ring's elements burn through.", 40),
    Trouble(SWITCH_LEFT_LOW, "The top ring's switch stays on low when the others are turned up."),
    Trouble(
        NIGHT_SWITCH_HIGH, "The candling ring is set to high instead of low at lighting; felt only while candling."
    ),
    Trouble(PROBE_OPEN, "The middle probe burns through: no circuit.", 30),
    Trouble(PROBE_PULLED_OUT, "The top probe is pulled out of the kiln and hangs in the room.", 30),
    Trouble(POWER_CUT, "The power fails for 40 minutes; spyhole stays up on its battery.", 50),
    Trouble(
        POWER_CUT_NIGHT,
        "The power fails for two and a half hours while the ware candles; spyhole stays up on its battery.",
        200,
        CANDLING,
    ),
)


def named(name: str) -> Trouble:
    """The trouble of this name; ValueError naming those there are."""
    for trouble in TROUBLES:
        if trouble.name == name:
            return trouble
    raise ValueError(f"no trouble is called {name!r}; there are {', '.join(t.name for t in TROUBLES)}")
