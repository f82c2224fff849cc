"""Exercises at an emulated kiln: what was done after the question, against what a good keeper does. Pure.

A step is a predicate over how it stood when the question was asked and all that was done since, in order: entries and
answers out of the journal, and what a hand did at the kiln. A finding says why, never who.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Acknowledgement, InReach, OutOfService, Shelving, Told, WatchTaken
from spyhole.core.kiln import Switch

OFF = "off"
SETTINGS = tuple(Switch)
GLASSES, BARE = "glasses", "bare"


@dataclass(frozen=True, slots=True)
class Handled:
    """A hand did this at the emulated kiln, and nothing wrote it down.

    what: switch, lid, plugs, timer, shutoff, trouble, look, isolate. subject: the ring, or "".
    """

    what: str
    subject: str = ""
    value: str = ""


@dataclass(frozen=True, slots=True)
class Act:
    """Something done, at this instant of the kiln's clock."""

    at_ms: int
    deed: Told | Handled


@dataclass(frozen=True, slots=True)
class Scene:
    """How it stood when the question was asked. episodes: those nobody had seen. ring: the one in trouble."""

    at_ms: int
    switches: tuple[tuple[str, str], ...]
    episodes: tuple[str, ...] = ()
    holder: str = ""
    ring: str | None = None


Acts = Sequence[Act]
Seen = Callable[[Scene, Acts], bool]


@dataclass(frozen=True, slots=True)
class Step:
    """What a good keeper does. minutes: within so many, None for no hurry. after: the step that comes before it."""

    name: str
    words: str
    why: str
    done: Seen
    minutes: float | None = None
    after: str = ""


@dataclass(frozen=True, slots=True)
class Slip:
    """What is better left."""

    words: str
    why: str
    made: Seen


@dataclass(frozen=True, slots=True)
class Exercise:
    """story: what the colleague is told. trouble: of the emulated kiln; until: the alarm the question waits for."""

    name: str
    title: str
    story: str
    trouble: str
    until: str
    steps: tuple[Step, ...]
    slips: tuple[Slip, ...]
    closing: str


@dataclass(frozen=True, slots=True)
class Finding:
    """One thing that was right, or missed, or better left. seconds: from the question until it was done."""

    words: str
    why: str
    seconds: float | None = None


@dataclass(frozen=True, slots=True)
class Verdict:
    """right: in the order done. late, early: done, but too late, or before what comes first."""

    right: tuple[Finding, ...]
    late: tuple[Finding, ...]
    early: tuple[Finding, ...]
    missed: tuple[Finding, ...]
    slips: tuple[Finding, ...]

    @property
    def whole(self) -> bool:
        """Whether nothing was missed, late, early, or better left."""
        return not (self.late or self.early or self.missed or self.slips)


def judge(exercise: Exercise, scene: Scene, acts: Acts) -> Verdict:
    """What was right, what was missed, and why it matters."""
    done = {step.name: _first(step.done, scene, acts) for step in exercise.steps}
    words = {step.name: step.words for step in exercise.steps}
    right: list[tuple[int, Finding]] = []
    late: list[Finding] = []
    early: list[Finding] = []
    missed: list[Finding] = []
    for step in exercise.steps:
        at = done[step.name]
        if at is None:
            missed.append(Finding(step.words, step.why))
            continue
        seconds = _seconds(scene, acts, at)
        before = done.get(step.after) if step.after else None
        if step.after and (before is None or before > at):
            early.append(Finding(step.words, f"First: {words[step.after]} {step.why}", seconds))
        elif step.minutes is not None and seconds > step.minutes * 60:
            late.append(Finding(step.words, f"Within {step.minutes:g} minutes. {step.why}", seconds))
        else:
            right.append((at, Finding(step.words, step.why, seconds)))
    slips = [
        Finding(slip.words, slip.why, _seconds(scene, acts, at))
        for slip in exercise.slips
        if (at := _first(slip.made, scene, acts)) is not None
    ]
    ordered = tuple(finding for _, finding in sorted(right, key=lambda each: each[0]))
    return Verdict(ordered, tuple(late), tuple(early), tuple(missed), tuple(slips))


def _first(seen: Seen, scene: Scene, acts: Acts) -> int | None:
    """How many acts it took, None when it was never so."""
    return next((count for count in range(1, len(acts) + 1) if seen(scene, acts[:count])), None)


def _seconds(scene: Scene, acts: Acts, count: int) -> float:
    return (acts[count - 1].at_ms - scene.at_ms) / 1000


# What can be seen


def switches(scene: Scene, acts: Acts) -> dict[str, str]:
    """How the switches really stand after these acts."""
    standing = dict(scene.switches)
    for act in acts:
        if isinstance(act.deed, Handled) and act.deed.what == "switch":
            standing[act.deed.subject] = act.deed.value
    return standing


def all_off(scene: Scene, acts: Acts) -> bool:
    """Every switch is off, or the kiln is isolated."""
    return all(setting == OFF for setting in switches(scene, acts).values()) or handled("isolate")(scene, acts)


def turned_off_another(scene: Scene, acts: Acts) -> bool:
    """A ring was turned off that was on and is not the one in trouble."""
    was = dict(scene.switches)
    return any(
        setting == OFF and was[ring] != OFF and ring != scene.ring for ring, setting in switches(scene, acts).items()
    )


def turned_up(scene: Scene, acts: Acts) -> bool:
    """A ring was turned higher than it stood."""
    was = dict(scene.switches)
    return any(
        isinstance(act.deed, Handled)
        and act.deed.what == "switch"
        and SETTINGS.index(act.deed.value) > SETTINGS.index(was[act.deed.subject])
        for act in acts
    )


def acknowledged(scene: Scene, acts: Acts) -> bool:
    """Somebody has said that they mind every alarm there was."""
    seen = {act.deed.episode for act in acts if isinstance(act.deed, Acknowledgement)}
    return set(scene.episodes) <= seen


def looked(_: Scene, acts: Acts) -> bool:
    """Somebody looked in, with glasses."""
    return any(isinstance(act.deed, Handled) and (act.deed.what, act.deed.value) == ("look", GLASSES) for act in acts)


def handled(what: str, *values: str) -> Seen:
    """A hand did this; without values, whatever way."""

    def seen(_: Scene, acts: Acts) -> bool:
        return any(
            isinstance(act.deed, Handled) and act.deed.what == what and (not values or act.deed.value in values)
            for act in acts
        )

    return seen


def wrote(*kinds: EntryKind) -> Seen:
    """An entry of one of these kinds was written."""

    def seen(_: Scene, acts: Acts) -> bool:
        return any(isinstance(act.deed, Entry) and act.deed.kind in kinds for act in acts)

    return seen


def shelved(_: Scene, acts: Acts) -> bool:
    """An alarm was put aside."""
    return any(isinstance(act.deed, Shelving) and act.deed.minutes > 0 for act in acts)


def out_of_service(scene: Scene, acts: Acts) -> bool:
    """The probe in trouble was taken out of service."""
    return any(isinstance(act.deed, OutOfService) and act.deed.out and act.deed.ring == scene.ring for act in acts)


def handed_over(scene: Scene, acts: Acts) -> bool:
    """Somebody else holds the watch."""
    return any(isinstance(act.deed, WatchTaken) and act.deed.who not in ("", scene.holder) for act in acts)


def handed_over_with_words(scene: Scene, acts: Acts) -> bool:
    """It was said how the kiln stands."""
    return any(
        isinstance(act.deed, WatchTaken) and act.deed.who not in ("", scene.holder) and len(act.deed.note.split()) >= 3
        for act in acts
    )


def answered(_: Scene, acts: Acts) -> bool:
    """Whoever holds the watch now has answered that they are in reach."""
    taken = [number for number, act in enumerate(acts) if isinstance(act.deed, WatchTaken)]
    return bool(taken) and any(isinstance(act.deed, InReach) for act in acts[taken[-1] :])
