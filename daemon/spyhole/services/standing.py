"""What stands: alarms by episode, what is put aside, who holds the watch. Parts of the snapshot."""

from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.alarms.life import RANK, Alarm, Deed, DeedKind, Standing, shelf_minutes_at_most
from spyhole.core.duty import Asked
from spyhole.core.outcome import Priority
from spyhole.core.state import State
from spyhole.core.words import Manner, alarm_title, seen
from spyhole.services.snapshot import (
    AlarmView,
    AskedView,
    ConditionView,
    DeedView,
    DutyView,
    OutOfServiceView,
    ShelvedView,
)

DEEDS_SHOWN = 8

DEED_WORDS = {
    DeedKind.RAISED: "Raised",
    DeedKind.CLEARED: "Over",
    DeedKind.AGAIN: "Still so, told again",
    DeedKind.WORSE: "Worse now, told again",
    DeedKind.ACKNOWLEDGED: "Seen",
    DeedKind.RESET: "Reset",
    DeedKind.SHELVED: "Put aside",
    DeedKind.TAKEN_BACK: "Taken back",
    DeedKind.SHELF_OVER: "No longer put aside",
    DeedKind.OUT: "Probe out of service",
    DeedKind.BACK: "Probe back in service",
    DeedKind.SUPPRESSED: "Does not apply in this stage",
    DeedKind.APPLIES: "Applies again",
}


def alarm_views(state: State, manner: Manner, conditions: tuple[ConditionView, ...]) -> tuple[AlarmView, ...]:
    """One view an episode, its worst and then first alarm on top, or what is told anew; the high ones first."""
    episodes: dict[str, list[Alarm]] = {}
    for alarm in state.alarms.alarms:
        if alarm.overlay is None and alarm.standing is not Standing.NORMAL and alarm.episode:
            episodes.setdefault(alarm.episode, []).append(alarm)
    said = {one.code: one.words for one in conditions}
    shown = [_alarm(state, group, manner, said) for group in episodes.values()]
    return tuple(sorted(shown, key=lambda a: (-RANK[Priority(a.priority)], a.since_utc_ms)))


def _alarm(state: State, group: list[Alarm], manner: Manner, said: dict[str, str]) -> AlarmView:
    head = max(group, key=lambda a: (a.active, RANK[a.priority], CATALOGUE[a.tag].anew, -a.raised_utc_ms))
    first = head if CATALOGUE[head.tag].anew else min(group, key=lambda a: a.raised_utc_ms)
    unseen = [a for a in group if not a.acknowledged]
    standing = unseen[0].standing if unseen else head.standing
    if any(a.standing is Standing.UNACKNOWLEDGED for a in group):
        standing = Standing.UNACKNOWLEDGED
    return AlarmView(
        episode=head.episode,
        tag=head.tag,
        ring=head.ring,
        priority=head.priority.value,
        state=standing.value,
        since_utc_ms=first.raised_utc_ms,
        seen=_seen(head, manner, said),
        first_action=CATALOGUE[head.tag].first,
        joined=tuple(alarm_title(a.tag, a.ring) for a in group if a is not head),
        acknowledged=not unseen,
        acknowledged_by=next((a.acknowledged_by for a in group if a.acknowledged_by), None),
        shelf_minutes=shelf_minutes_at_most(CATALOGUE[head.tag].priority),
        history=tuple(_deed(state, one) for one in reversed(head.history[-DEEDS_SHOWN:])),
    )


def _seen(alarm: Alarm, manner: Manner, said: dict[str, str]) -> str:
    """A fault of the watch itself says it in its own words, which know more than the alarm does."""
    title = alarm_title(alarm.tag, alarm.ring)
    if not alarm.active:
        return f"{title}."
    return f"{title}. {said.get(alarm.tag) or seen(alarm.tag, alarm.ring, alarm.facts, manner)}"


def _deed(state: State, deed: Deed) -> DeedView:
    words = DEED_WORDS[deed.kind]
    return DeedView(_utc(state, deed.at_ms), f"{words}: {deed.note}" if deed.note else words, deed.who)


def not_alarms_yet(conditions: tuple[ConditionView, ...], state: State) -> tuple[ConditionView, ...]:
    """The conditions that no alarm on the page tells of."""
    told = {a.tag for a in state.alarms.alarms if a.active and a.overlay is None}
    return tuple(one for one in conditions if one.code not in told)


def shelved_views(state: State, manner: Manner) -> tuple[ShelvedView, ...]:
    """What is put aside, the one that comes back first on top."""
    return tuple(
        ShelvedView(
            tag=alarm.tag,
            ring=alarm.ring,
            priority=alarm.priority.value,
            seen=_seen(alarm, manner, {}),
            holds=alarm.active,
            since_utc_ms=_utc(state, shelf.since_ms),
            until_utc_ms=_utc(state, shelf.until_ms),
            reason=shelf.reason,
            who=shelf.who,
        )
        for shelf, alarm in sorted(
            ((a.shelf, a) for a in state.alarms.alarms if a.shelf is not None), key=lambda pair: pair[0].until_ms
        )
    )


def out_views(state: State) -> tuple[OutOfServiceView, ...]:
    """Probes out of service, oldest first."""
    return tuple(OutOfServiceView(one.ring, _utc(state, one.since_ms), one.reason, one.who) for one in state.alarms.out)


HANDED = "the watch was handed to you"


def duty_view(state: State) -> DutyView:
    """Who holds the watch, and whether they have been asked.

    Whoever is given the watch is counted as in reach from then on, so that they are not called at once. They have not
    said so, and are not shown as if they had: while a kiln is fired they are asked until somebody answers.
    """
    duty = state.duty
    given = duty.holder != "" and (duty.reached_by, duty.reached_ms) == (duty.holder, duty.taken_ms)
    asked = duty.asked
    if asked is None and given and duty.taken_ms is not None and state.firing is not None and not state.firing.off:
        asked = Asked(duty.taken_ms, HANDED)
    coming = f" {asked.why[:1].upper()}{asked.why[1:]}." if asked is not None and asked.why else ""
    return DutyView(
        holder=duty.holder,
        note=duty.note,
        taken_utc_ms=None if duty.taken_ms is None else _utc(state, duty.taken_ms),
        reached_by="" if given else duty.reached_by,
        reached_utc_ms=None if given or duty.reached_ms is None else _utc(state, duty.reached_ms),
        asked=None if asked is None else AskedView(f"Are you in reach?{coming}", _utc(state, asked.since_ms)),
    )


def _utc(state: State, axis_ms: int) -> int:
    """An instant of the watch's axis, by what the clock is known to be now."""
    return state.line.utc_ms - (state.line.now_ms - axis_ms)
