"""What a keeper wants said of a firing: how it is, what to do next, and whether the timer fits the cone."""

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.alarms.life import Standing
from spyhole.core.curve import trust
from spyhole.core.firing import Firing, Stopped, turn_due_ms
from spyhole.core.kiln import Switch
from spyhole.core.outcome import EstimateOutcome, Forecast, Why
from spyhole.core.state import State
from spyhole.core.words import Manner, alarm_title
from spyhole.services.snapshot import AlarmView, NextView, ShelvedView, TimerView

WHY_MOVED = {
    Why.SWITCH: "a switch was turned",
    Why.TURN: "the curve shows another stage",
    Why.POWER: "the power was away",
    Why.LID: "the lid was moved",
    Why.PLUGS: "plugs were moved",
    Why.CONE: "a cone was seen",
    Why.TRIP: "the shut-off dropped",
    Why.PROBE: "other probes are believed",
    Why.SLOWER: "the kiln climbs more slowly than expected",
    Why.FASTER: "the kiln climbs faster than expected",
}


def sentence(
    state: State,
    firing: Firing | None,
    latest: EstimateOutcome | None,
    alarms: tuple[AlarmView, ...],
    shelved: tuple[ShelvedView, ...],
    manner: Manner,
) -> str:
    """What a person would say aloud. What is put aside and holds all the same is said first: it is not all well."""
    if alarms:
        worst = alarms[0]
        if worst.state == Standing.ACKNOWLEDGED:
            who = f" {worst.acknowledged_by} has seen it." if worst.acknowledged_by else ""
            return f"Still so: {worst.seen}{who}"
        if worst.state in (Standing.RETURNED, Standing.LATCHED):
            began = manner.clock(worst.since_utc_ms)
            return f"It is over now; look all the same. At {began}: {alarm_title(worst.tag, worst.ring).lower()}."
        if all(CATALOGUE[one.tag].family == "watch" for one in alarms):
            return f"Look at spyhole itself; it raises no alarm of the kiln. {worst.seen}"
        return f"Look now. {worst.seen}"
    aside = next((one for one in shelved if one.holds), None)
    rest = _of_the_firing(state, firing, latest, manner)
    if aside is None:
        return rest
    title = alarm_title(aside.tag, aside.ring)
    return f"{title}, put aside until {manner.clock(aside.until_utc_ms)}. {rest.removeprefix('All well. ')}"


def _of_the_firing(state: State, firing: Firing | None, latest: EstimateOutcome | None, manner: Manner) -> str:
    if firing is None:
        hottest = trust.hottest(state.tracks, state.fit)
        return "No firing." if hottest is None else f"No firing. The kiln is at {manner.heat(hottest)}."
    if firing.off:
        return _cooling_sentence(state, firing, latest, manner)
    return _lit_sentence(state, firing, latest, manner)


def _cooling_sentence(state: State, firing: Firing, latest: EstimateOutcome | None, manner: Manner) -> str:
    if firing.stopped is Stopped.SHORT:
        end = f"cone {firing.plan.cone} not down"
    elif firing.stopped is Stopped.UNSEEN:
        end = "the cone not seen: no probe could be believed then"
    elif firing.stopped is Stopped.BY_HAND:
        end = "switched off by hand"
    else:
        end = f"cone {firing.plan.cone} down"
    peak = manner.heat(max(firing.peaks, default=None))
    said = f"Stopped heating {manner.clock(firing.off_utc_ms)}, peak {peak}, {end}."
    hottest = trust.hottest(state.tracks, state.fit)
    cooling = firing.plan.cooling
    if hottest is None:
        return f"{said} The kiln cannot be seen now: leave it shut."
    for below, words in (
        (cooling.unload_below_celsius, "Cool enough to unload."),
        (cooling.open_below_celsius, "The lid may be opened."),
        (cooling.crack_below_celsius, "The lid may be cracked."),
    ):
        if hottest < below:
            return f"{said} {words}"
    first = dict(latest.cool).get(200) if latest is not None else None
    if first is not None:
        cool = f"Below {manner.heat(200)} about {manner.when(first.median, state.line.utc_ms)}."
        return f"{said} Every switch off; lid and plugs stay shut. {cool}"
    return f"{said} Every switch off; lid and plugs stay shut."


def _lit_sentence(state: State, firing: Firing, latest: EstimateOutcome | None, manner: Manner) -> str:
    due_ms = turn_due_ms(firing)
    due_utc_ms = None if due_ms is None else state.line.utc_ms + due_ms - state.line.now_ms
    if due_utc_ms is not None and due_utc_ms > state.line.utc_ms:
        return f"Nothing to do until {manner.clock(due_utc_ms)}. {_one_ring(state, firing, manner)}"
    since = manner.clock(firing.started_utc_ms + firing.stage_ms - firing.started_ms)
    stage = firing.now_stage.name
    if due_utc_ms is not None:
        return f"All well. Time to turn: {firing.plan.stages[firing.stage + 1].name}."
    if firing.cone_down_ms is not None:
        return f"Cone {firing.plan.cone} should be down. Stay with the kiln until the shut-off drops."
    if latest is not None and latest.cone_down is not None:
        drop = f"Cone {firing.plan.cone} should drop at {manner.between(latest.cone_down)}."
        return f"All well. On {stage} since {since}. {drop}"
    return f"All well. On {stage} since {since}."


def _one_ring(state: State, firing: Firing, manner: Manner) -> str:
    """`Bottom 118 degC, on low.`: the hottest ring that is switched on, which says most about the night."""
    rings = firing.kiln.probe_rings
    seen = [
        (firing.switches[ring] is not Switch.OFF, track.celsius, ring)
        for ring, track, fit in zip(rings, state.tracks, state.fit, strict=True)
        if fit and track.celsius is not None
    ]
    if not seen:
        return "The kiln cannot be seen now."
    _, celsius, ring = max(seen)
    return f"{firing.kiln.rings[ring].name.capitalize()} {manner.heat(celsius)}, on {firing.switches[ring].value}."


def start_view(state: State) -> NextView | None:
    """What lighting the kiln begins: the plan that is set, and the switches of its first stage."""
    kiln, plan = state.kiln, state.plan
    if kiln is None or plan is None:
        return None
    first = plan.stages[0]
    turn = tuple(
        (ring.name, switch.value)
        for ring, switch in zip(kiln.rings, first.switches, strict=True)
        if switch is not Switch.OFF
    )
    turns = ", ".join(f"{ring} on {setting}" for ring, setting in turn)
    plugs = f", plugs {first.plugs.value}" if first.plugs is not None else ""
    why = f"{plan.name}: {turns}{plugs}. Say so once it is lit; the watch begins then."
    return NextView(f"Light {kiln.name} for cone {plan.cone}", why, None, turn, plan.cone)


def next_view(state: State, firing: Firing, latest: EstimateOutcome | None, manner: Manner) -> NextView | None:
    """What to do next, when, and why; None when there is nothing."""
    if firing.off:
        return _next_cooling(state, firing, latest, manner)
    if not firing.heating:
        return None
    if not firing.last_stage:
        following = firing.plan.stages[firing.stage + 1]
        turn = tuple(
            (ring.name, to.value)
            for ring, now, to in zip(firing.kiln.rings, firing.switches, following.switches, strict=True)
            if now is not to
        )
        turns = ", ".join(f"{ring} to {setting}" for ring, setting in turn) or "leave the switches"
        plugs = f"; plugs {following.plugs.value}" if following.plugs is not None else ""
        stage = firing.now_stage
        if stage.hours is not None:
            why = f"{_hours(stage.hours)} of {stage.name} are then over."
        else:
            held = f", held for {stage.soak_minutes:.0f} minutes" if stage.soak_minutes else ""
            why = f"{stage.name} ends at {manner.heat(stage.until_celsius)}{held}."
        return NextView(
            f"Turn {turns}{plugs}", f"{why}{moved_words(latest)}", None if latest is None else latest.next_turn, turn
        )
    down = None if latest is None else latest.cone_down
    stay = "Stay on the premises until the shut-off drops; look at the cones through the top plug, glasses on."
    return NextView(f"Watch for cone {firing.plan.cone}", f"{stay}{moved_words(latest)}", down, ())


def moved_words(latest: EstimateOutcome | None) -> str:
    """Why the cone is expected at another time than lately, as a sentence to add; empty while it is not."""
    if latest is None or latest.moved is None:
        return ""
    way = "later" if latest.moved.minutes > 0 else "sooner"
    return f" The cone is now expected {abs(latest.moved.minutes)} minutes {way}: {WHY_MOVED[latest.moved.why]}."


def _next_cooling(state: State, firing: Firing, latest: EstimateOutcome | None, manner: Manner) -> NextView | None:
    hottest, cooling = trust.hottest(state.tracks, state.fit), firing.plan.cooling
    cool = dict(latest.cool) if latest is not None else {}
    turn = tuple(
        (ring.name, "off")
        for ring, switch in zip(firing.kiln.rings, firing.switches, strict=True)
        if switch.value != "off"
    )
    if turn:
        return NextView(
            "Turn every switch off",
            "The cone in the shut-off is spent; it must not be armed again as it is.",
            None,
            turn,
        )
    if hottest is None:
        return None
    if hottest >= cooling.crack_below_celsius:
        at = cool.get(200)
        then = f"Then it should be below {manner.heat(200)}. " if at is not None else ""
        return NextView("Leave lid and plugs shut", f"{then}Ware cracks when cold air reaches it hot.", at, ())
    # What may be done now has no time; the one that is known is the next mark's.
    if hottest < cooling.unload_below_celsius:
        return NextView("Cool enough to unload", "Write down what the cones on each shelf say.", None, ())
    if hottest < cooling.open_below_celsius:
        why = "Isolate at the wall before reaching in; shards and glaze runs cut."
        return NextView("The lid may be opened", why + _below(50, cool, state, manner), None, ())
    why = "Prop it securely; keep your face out of the hot air."
    return NextView("The lid may be cracked", why + _below(100, cool, state, manner), None, ())


def _below(celsius: int, cool: dict[int, Forecast | None], state: State, manner: Manner) -> str:
    """` Below 100 degC about 21:53.`; nothing where that is not known."""
    at = cool.get(celsius)
    return "" if at is None else f" Below {manner.heat(celsius)} about {manner.when(at.median, state.line.utc_ms)}."


def _hours(hours: float) -> str:
    whole = int(hours)
    minutes = round((hours - whole) * 60)
    return f"{whole} hours" if minutes == 0 else f"{whole} h {minutes} min"


def timer_view(latest: EstimateOutcome, manner: Manner) -> TimerView | None:
    """The backup timer against the cone; None when neither is known."""
    timer = latest.timer
    if timer is None:
        return None
    return TimerView(
        timer.ends, timer.advised_minutes, _gap(timer.ends, timer.advised_minutes, latest.cone_down, manner)
    )


def _gap(ends: int | None, advised: int | None, down: Forecast | None, manner: Manner) -> str:
    if ends is None:
        advice = "" if advised is None else f" Wind about {advised} minutes."
        return f"The backup timer's end is not known here.{advice}"
    if down is None:
        return f"The timer ends at {manner.clock(ends)}."
    minutes = round((ends - down.median) / 60_000)
    if minutes < 0:
        advice = "" if advised is None else f" Wind it on to {advised} minutes."
        return f"The timer ends {-minutes} minutes before the cone.{advice}"
    if minutes > 120:
        return f"The timer ends {minutes} minutes after the cone: too late to help."
    return f"The timer ends {minutes} minutes after the cone."
