"""The exercises there are. What is right in each is common practice at such kilns; no published source."""

from spyhole.core.entry import EntryKind
from spyhole.core.exercises import (
    BARE,
    Exercise,
    Slip,
    Step,
    acknowledged,
    all_off,
    answered,
    handed_over,
    handed_over_with_words,
    handled,
    looked,
    out_of_service,
    shelved,
    turned_off_another,
    turned_up,
    wrote,
)

GLASSES_WHY = (
    "The glow of a hot kiln hurts eyes over the years: infrared-rated glasses, about shade 2, never sunglasses."
)
OPENED = Slip(
    "The lid or a plug was opened.",
    "A hot plume comes out, and cold air shocks ware and shelves. Leave them shut until the plan lets you.",
    handled("lid", "cracked", "propped", "open"),
)
BARE_EYES = Slip("Looked in without glasses.", GLASSES_WHY, handled("look", BARE))
ASIDE = Slip(
    "The alarm was put aside.",
    "Put aside, it calls nobody else. Acknowledge instead: that says somebody minds it.",
    shelved,
)
SEEN = Step(
    "acknowledge",
    "Acknowledge the alarm, on the page or by the button at the kiln.",
    "Until somebody does, spyhole goes on to call the next person.",
    acknowledged,
    minutes=10,
)
LOOKED = Step(
    "look", "Look in at the cones, with glasses.", "Cones say what the ware has had; numbers only guess.", looked
)

JAMMED = Exercise(
    name="shut-off-jammed",
    title="The shut-off has jammed",
    story="You come back to the kiln room in the last stage. An alarm calls. What now?",
    trouble="shutoff-jams",
    until="shutoff-overdue",
    steps=(
        Step(
            "off",
            "Every switch off.",
            "The shut-off will not do it, and each minute at heat costs ware, shelves and elements.",
            all_off,
            minutes=5,
        ),
        SEEN,
        LOOKED,
        Step(
            "write",
            "Write down that the switches are off, or what you found.",
            "spyhole then knows that the firing is over, and so does whoever comes next.",
            wrote(EntryKind.SWITCH, EntryKind.SHUTOFF, EntryKind.NOTE),
        ),
    ),
    slips=(
        OPENED,
        BARE_EYES,
        ASIDE,
        Slip(
            "The shut-off was handled while the kiln was hot.",
            "Its rod and weight are hot and under load, and it is freed only cold, with the kiln isolated at the wall.",
            handled("trouble", "none"),
        ),
    ),
    closing="If it heats with every switch off, a switch is welded: isolate at the wall and call the electrician.",
)

PROBE = Exercise(
    name="probe-loose",
    title="A probe comes loose",
    story="All is on high when one of the rings is no longer seen. What now?",
    trouble="probe-open",
    until="probe-open",
    steps=(
        SEEN,
        LOOKED,
        Step(
            "out",
            "Take this probe out of service, with the reason.",
            "A wire that touches now and then would call you again and again, and mislead the rest of the watch.",
            out_of_service,
        ),
        Step(
            "write",
            "Write down what you saw of the cones, or a note.",
            "This ring goes by your eyes from now on; the next person needs to know that.",
            wrote(EntryKind.CONE, EntryKind.NOTE, EntryKind.PHOTO),
        ),
    ),
    slips=(
        OPENED,
        BARE_EYES,
        Slip(
            "A switch was turned off.",
            "The kiln is well; only its watcher is short of an eye. The other rings and your cones carry this firing.",
            turned_off_another,
        ),
        Slip(
            "The wire was handled while the kiln was hot.",
            "A probe is looked at once the kiln is cold and isolated at the wall: elements are live beside it.",
            handled("trouble", "none"),
        ),
    ),
    closing="Once it is cold and isolated: look at the connection, and put the probe back in service.",
)

RING = Exercise(
    name="ring-dead",
    title="A ring is dead",
    story="All switches are on high, and one ring falls behind the others. What now?",
    trouble="ring-dies",
    until="ring-behind",
    steps=(
        Step(
            "switch",
            "Look at that ring's switch: is it where it should be?",
            "A switch left low looks just the same from afar, and is mended by turning it.",
            handled("look", "switches"),
        ),
        SEEN,
        LOOKED,
        Step(
            "write",
            "Note it, and plan for a cool shelf there.",
            "Whoever unloads knows which shelf to look at, and whoever mends knows which ring.",
            wrote(EntryKind.NOTE, EntryKind.CONE, EntryKind.PHOTO),
        ),
    ),
    slips=(
        OPENED,
        BARE_EYES,
        Slip(
            "A ring that works was turned off.",
            "The others carry the firing; with fewer of them it may stall short of its cone.",
            turned_off_another,
        ),
    ),
    closing="No fuse is replaced and no breaker reset twice in mid-firing. Elements are a licensed electrician's.",
)

POWER = Exercise(
    name="power-back",
    title="The power came back by itself",
    story="The power had failed while nobody was there. Now the kiln heats again. What now?",
    trouble="power-cut",
    until="power-back",
    steps=(
        Step(
            "off",
            "Every switch off before anything else.",
            "It heats unwatched, by a timer that stood still meanwhile and may end late.",
            all_off,
            minutes=10,
        ),
        SEEN,
        Step(
            "look",
            "Then look in at the cones, with glasses, and decide whether to go on.",
            "How far the ware had come and how far it cooled decides; nothing is lost by a quarter of an hour off.",
            looked,
            after="off",
        ),
        Step(
            "write",
            "Write down that the power was away, or what you decided.",
            "The firing then has its reason in the book, and the next forecast is not fooled.",
            wrote(EntryKind.POWER, EntryKind.NOTE),
        ),
    ),
    slips=(OPENED, BARE_EYES, ASIDE),
    closing="If you go on: timer first, wound for what is left; then the switches; and stay until it climbs.",
)

LOST = Exercise(
    name="power-lost-night",
    title="The power is lost at night",
    story="Damp ware candles, as it does by night, and nobody is there. Your phone calls: the heat has gone. What now?",
    trouble="power-cut-night",
    until="heat-lost",
    steps=(
        Step(
            "off",
            "Every switch off.",
            "The power comes back when it likes. Then nothing heats until somebody is there who wants it to.",
            all_off,
            minutes=20,
        ),
        SEEN,
        Step(
            "supply",
            "Read the switches, the timer and the supply.",
            "A timer that ran out, a shut-off that dropped and a dead supply look alike from afar, "
            "and each is mended otherwise.",
            handled("look", "switches"),
        ),
        Step(
            "write",
            "Write down that the power is away, or what you found.",
            "Whoever comes in the morning finds a cool kiln with its switches off, and reads here why.",
            wrote(EntryKind.POWER, EntryKind.NOTE),
        ),
    ),
    slips=(
        OPENED,
        ASIDE,
        Slip(
            "A switch was turned up, to make up for what was lost.",
            "Damp ware is not hurried: once the supply is back it would burst. It waits as long as it has to.",
            turned_up,
        ),
    ),
    closing="With the supply back and somebody there: bottom on low again, plugs out, the timer wound on by what was "
    "lost. No breaker is reset twice. Ware that candles loses nothing by waiting.",
)

HANDING = Exercise(
    name="handing-over",
    title="Handing over",
    story="All is well, the kiln is in its last stage, and you have to leave. A colleague is in the room. What now?",
    trouble="none",
    until="",
    steps=(
        LOOKED,
        Step(
            "timer",
            "Wind the timer, and write down for how long.",
            "It should end half an hour after the cone; whoever takes over should not have to guess it.",
            wrote(EntryKind.TIMER),
        ),
        Step(
            "hand",
            "Give the watch to your colleague by name.",
            "From then on it is their phone that rings.",
            handed_over,
        ),
        Step(
            "note",
            "Say with it how the kiln stands, in some words.",
            "Which cone, what comes next, what is odd tonight: what is not said at the hand-over is lost.",
            handed_over_with_words,
        ),
        Step(
            "answer",
            "Let them answer 'in reach' before you go.",
            "Then both of you have seen that the watch has moved.",
            answered,
            after="hand",
        ),
    ),
    slips=(
        OPENED,
        BARE_EYES,
        Slip("A switch was turned off.", "All was well; the firing goes on with your colleague.", turned_off_another),
    ),
    closing="Leave by the cones, not by the clock: hand over when nothing is due for a quarter of an hour.",
)

EXERCISES = (JAMMED, PROBE, POWER, LOST, RING, HANDING)


def named(name: str) -> Exercise | None:
    """The exercise of this name."""
    return next((exercise for exercise in EXERCISES if exercise.name == name), None)
