"""What is worth saying once, though it is no alarm."""

from dataclasses import replace

from spyhole.core.cones.kinetics import bend_words
from spyhole.core.curve import trust
from spyhole.core.firing import Firing, Stopped, turn_due_ms
from spyhole.core.outcome import Facts, PromptOutcome
from spyhole.core.view import View


def due(view: View) -> tuple[Firing, tuple[PromptOutcome, ...]]:
    """The prompts that have become due, and the firing that remembers having said them."""
    firing = view.firing
    prompts = []
    for key, tag, facts in (*_lit(view), *_cooling(view), *_doubted(view)):
        if key not in firing.said:
            firing = replace(firing, said=(*firing.said, key))
            prompts.append(PromptOutcome(view.utc_ms, tag, facts))
    hottest = trust.hottest(view.tracks, view.fit)
    if firing.off and hottest is not None and hottest < firing.plan.cooling.unload_below_celsius:
        firing = replace(firing, ended=True)
    return firing, tuple(prompts)


def _lit(view: View) -> list[tuple[str, str, Facts]]:
    firing = view.firing
    if firing.off or not firing.heating:
        return []
    said: list[tuple[str, str, Facts]] = []
    due_ms = turn_due_ms(firing)
    if due_ms is not None and view.now_ms >= due_ms:
        following = firing.plan.stages[firing.stage + 1]
        turns = ", ".join(
            f"{ring.name} {to.value}"
            for ring, now, to in zip(firing.kiln.rings, firing.switches, following.switches, strict=True)
            if now is not to
        )
        said.append((f"turn {firing.stage}", "turn-due", (("stage", following.name), ("turns", turns))))
    if firing.cone_down_ms is not None:
        said.append(("cone down", "cone-down", (("cone", firing.plan.cone), ("celsius", view.celsius[view.reference]))))
    return said


def _doubted(view: View) -> list[tuple[str, str, Facts]]:
    """Cones written down that cannot be: one mistaken entry must move nothing, and somebody should look again."""
    if not view.firing.sightings:
        return []
    doubted = {sequence for probe in range(len(view.tracks)) for sequence in view.taught(probe).doubted}
    return [
        (f"cone doubted {one.sequence}", "cone-doubted", (("cone", one.cone), ("stands", bend_words(one.bend_degrees))))
        for one in view.firing.sightings
        if one.sequence in doubted
    ]


def _cooling(view: View) -> list[tuple[str, str, Facts]]:
    firing = view.firing
    if not firing.off:
        return []
    facts: Facts = (
        ("off_utc_ms", firing.off_utc_ms),
        ("peak", max(firing.peaks, default=None)),
        ("cone", firing.plan.cone),
        ("alpha", view.work.firing),
    )
    said: list[tuple[str, str, Facts]] = []
    if firing.stopped is Stopped.DONE:
        said.append(("off", "shut-off-seen", facts))
    hottest, cooling = trust.hottest(view.tracks, view.fit), firing.plan.cooling
    if hottest is None or max(firing.peaks, default=0.0) < 300.0:
        return said
    for tag, below in (
        ("crack-lid", cooling.crack_below_celsius),
        ("open-lid", cooling.open_below_celsius),
        ("unload", cooling.unload_below_celsius),
    ):
        if hottest < below:
            said.append((tag, tag, (("celsius", hottest), ("below", below))))
    return said
