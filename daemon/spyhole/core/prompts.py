"""What is worth saying once, though it is no alarm."""

from dataclasses import replace

from spyhole.core.cones.kinetics import bend_words
from spyhole.core.curve import trust
from spyhole.core.duty import IN_REACH, NO_ANSWER
from spyhole.core.firing import Firing, Stopped, turn_due_ms
from spyhole.core.outcome import Facts, Forecast, PromptOutcome
from spyhole.core.plan import Ware
from spyhole.core.steam import steam_past
from spyhole.core.view import View


def due(view: View) -> tuple[Firing, tuple[PromptOutcome, ...]]:
    """The prompts that have become due, and the firing that remembers having said them."""
    firing = view.firing
    prompts = []
    for key, tag, facts in (*_lit(view), *_steam(view), *_cooling(view), *_doubted(view)):
        if key not in firing.said:
            firing = replace(firing, said=(*firing.said, key))
            prompts.append(PromptOutcome(view.utc_ms, tag, facts))
    hottest = trust.hottest(view.tracks, view.fit)
    if firing.off and hottest is not None and hottest < firing.plan.cooling.unload_below_celsius:
        firing = replace(firing, ended=True)
    return firing, tuple(prompts)


ASK_BEFORE_CONE_MS = 40 * 60_000
ASK_BEFORE_TURN_MS = 10 * 60_000
JUST_NOW_MS = 15 * 60_000
"""Whoever did something this shortly ago is in reach, and is not asked."""
FROM_HIGH_MS = 10 * 60_000


def to_ask(view: View, next_turn: Forecast | None) -> tuple[str, str, PromptOutcome] | None:
    """(key, why, the question) where somebody who holds the watch should now be asked whether they are in reach.

    Before a turn, on high, and before the cone goes down. Nobody is asked who never took the watch. The question before
    a turn says what to turn and when, so that it is that turn's notice too. next_turn: when it comes.
    """
    firing, duty = view.firing, view.duty
    if duty.taken_ms is None or firing.off or not firing.heating:
        return None
    down = view.cone_down
    if not firing.last_stage:
        if next_turn is None or not 0 < next_turn.median - view.utc_ms <= ASK_BEFORE_TURN_MS:
            return None
        key, why = asked_before_turn(firing), "a turn is near"
    elif firing.cone_down_ms is None and down is not None and down.median - view.utc_ms < ASK_BEFORE_CONE_MS:
        key, why = "ask cone", "the cone should be down soon"
    elif view.now_ms - firing.stage_ms > FROM_HIGH_MS:
        key, why = "ask high", "the kiln is on high"
    else:
        return None
    recently = duty.reached_ms is not None and view.now_ms - duty.reached_ms < JUST_NOW_MS
    if key in firing.said or recently or duty.asked is not None:
        return None
    if not firing.last_stage and next_turn is not None:
        turn: Facts = (("why", why), ("who", duty.holder), ("due_utc_ms", next_turn.median), *_turn(firing))
        return key, why, PromptOutcome(view.utc_ms, "turn-near", turn)
    facts: Facts = (("why", why), ("who", duty.holder), ("down_utc_ms", None if down is None else down.median))
    return key, why, PromptOutcome(view.utc_ms, "in-reach", facts)


def asked_before_turn(firing: Firing) -> str:
    """The key of the question before the turn that ends the present stage."""
    return f"ask turn {firing.stage}"


def _turn(firing: Firing) -> Facts:
    following = firing.plan.stages[firing.stage + 1]
    turns = ", ".join(
        f"{ring.name} {to.value}"
        for ring, now, to in zip(firing.kiln.rings, firing.switches, following.switches, strict=True)
        if now is not to
    )
    return ("stage", following.name), ("turns", turns)


def _turn_is_due(view: View) -> bool:
    """By the clock of the plan, or where the curve has come to the end of the stage and was held there."""
    due_ms = turn_due_ms(view.firing)
    return due_ms is not None and view.now_ms >= due_ms


def _steam(view: View) -> list[tuple[str, str, Facts]]:
    """Rings of damp ware where steam seems past: said once, when it is so on every ring that can be seen."""
    firing = view.firing
    if firing.off or firing.plan.ware is not Ware.BISQUE:
        return []
    past = [view.ring_name(i) for i in range(len(view.tracks)) if steam_past(firing, i)]
    if len(past) < len(view.tracks):
        return []
    rings = past[0] if len(past) == 1 else f"{', '.join(past[:-1])} and {past[-1]}"
    return [("steam past", "steam-past", (("rings", rings),))]


def _lit(view: View) -> list[tuple[str, str, Facts]]:
    firing = view.firing
    if firing.off or not firing.heating:
        return []
    said: list[tuple[str, str, Facts]] = []
    if _turn_is_due(view):
        asked = asked_before_turn(firing) in firing.said
        answer = "" if not asked else IN_REACH if view.duty.asked is None else NO_ANSWER
        said.append((f"turn {firing.stage}", "turn-due", (*_turn(firing), ("answer", answer))))
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
