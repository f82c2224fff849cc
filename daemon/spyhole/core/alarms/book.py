"""All alarms of a kiln: one trouble, one episode, one message."""

from dataclasses import dataclass, replace

from spyhole.core.alarms.catalogue import CATALOGUE, TROUBLE_OF
from spyhole.core.alarms.life import Alarm, Change, Standing, acknowledge, reset, step
from spyhole.core.outcome import Action, AlarmOutcome, Facts, Priority

FRESH_MS = 30 * 60_000
"""What comes back or follows within this is the same trouble; later, it is news."""
RANK = {Priority.LOW: 0, Priority.MEDIUM: 1, Priority.HIGH: 2}


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a rule found: holds True, False, or None when it could not be judged."""

    tag: str
    ring: str | None
    holds: bool | None
    facts: Facts = ()


@dataclass(frozen=True, slots=True)
class AlarmBook:
    """alarms: those not quiet, in order of first trouble. episodes: how many there have been."""

    alarms: tuple[Alarm, ...] = ()
    episodes: int = 0

    def of(self, episode: str) -> tuple[Alarm, ...]:
        """The alarms of one episode, as long as one of them is open."""
        return tuple(a for a in self.alarms if a.episode == episode and a.standing is not Standing.NORMAL)


def judge(
    book: AlarmBook, judgements: tuple[Judgement, ...], candling: bool, now_ms: int, utc_ms: int
) -> tuple[AlarmBook, tuple[AlarmOutcome, ...]]:
    """The book after one round of judgements. An alarm that no rule spoke of stays as it was."""
    alarms = {(a.tag, a.ring): a for a in book.alarms}
    episodes, outcomes = book.episodes, []
    for found in judgements:
        key = (found.tag, found.ring)
        alarm = alarms.get(key)
        if alarm is None:
            if not found.holds:
                continue
            alarm = Alarm(found.tag, found.ring)
        declared = CATALOGUE[found.tag]
        alarm, change = step(declared, alarm, found.holds, now_ms)
        if change in (Change.RAISED, Change.AGAIN):
            priority = declared.priority_when(candling)
            stale = bool(alarm.episode) and now_ms - alarm.cleared_ms > FRESH_MS
            open_now = tuple(a for k, a in alarms.items() if k != key and _open(a, now_ms))
            episode = _episode(alarm, open_now)
            if episode is None:
                episodes += 1
                episode = f"a{episodes}"
            worst = max((RANK[a.priority] for a in open_now if a.episode == episode), default=-1)
            seen_before = alarm.episode == episode
            tell = change is Change.AGAIN or stale or (RANK[priority] > worst and not seen_before)
            alarm = replace(alarm, episode=episode, raised_utc_ms=utc_ms, priority=priority, facts=found.facts)
            outcomes.append(_outcome(alarm, Action.RAISE, tell, utc_ms))
        elif change is Change.CLEARED:
            outcomes.append(_outcome(alarm, Action.CLEAR, False, utc_ms))
        elif alarm.active and found.facts:
            alarm = replace(alarm, facts=found.facts)
        alarms[key] = alarm
    return AlarmBook(tuple(a for a in alarms.values() if not a.quiet), episodes), tuple(outcomes)


def _open(alarm: Alarm, now_ms: int) -> bool:
    """Whether a new alarm can follow from this one: it holds, or ended only just now."""
    return alarm.active or (alarm.standing is not Standing.NORMAL and now_ms - alarm.cleared_ms < FRESH_MS)


def _episode(alarm: Alarm, open_now: tuple[Alarm, ...]) -> str | None:
    """The open episode this alarm belongs to: its own, or that of the trouble it follows from."""
    if alarm.episode:
        return alarm.episode
    trouble = TROUBLE_OF[CATALOGUE[alarm.tag].family]
    for other in reversed(open_now):
        if TROUBLE_OF[CATALOGUE[other.tag].family] != trouble:
            continue
        # Two probes that fail are two troubles, unless one follows from the other or both went at once.
        if trouble != "sight" or alarm.ring in (None, other.ring) or _together(alarm, other):
            return other.episode
    return None


def _together(one: Alarm, other: Alarm) -> bool:
    return one.tag == other.tag and abs(one.since_ms - other.since_ms) < 60_000


def _outcome(alarm: Alarm, action: Action, tell: bool, utc_ms: int) -> AlarmOutcome:
    return AlarmOutcome(utc_ms, alarm.episode, alarm.tag, alarm.ring, alarm.priority, action, tell, alarm.facts)


def acknowledge_episode(book: AlarmBook, episode: str, who: str, now_ms: int) -> AlarmBook:
    """Somebody has seen it: every alarm of the episode."""
    kept = (acknowledge(a, who, now_ms) if a.episode == episode else a for a in book.alarms)
    return AlarmBook(tuple(a for a in kept if not a.quiet), book.episodes)


def reset_episode(book: AlarmBook, episode: str) -> AlarmBook:
    """Latched alarms of the episode that are clear and acknowledged go back to normal."""
    kept = (reset(a) if a.episode == episode else a for a in book.alarms)
    return AlarmBook(tuple(a for a in kept if not a.quiet), book.episodes)
