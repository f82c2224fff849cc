"""All alarms of a kiln: one trouble, one episode, one message; and what lies over them.

An episode has a number of its own for ever: message keys are made of it, and nobody is told twice or not at all.
"""

from collections.abc import Callable
from dataclasses import dataclass, replace

from spyhole.core.alarms.catalogue import CATALOGUE, TROUBLE_OF
from spyhole.core.alarms.life import (
    RANK,
    Alarm,
    Change,
    Shelf,
    Standing,
    acknowledge,
    cover,
    reset,
    shelf_minutes_at_most,
    step,
)
from spyhole.core.journal import OutOfService, Shelving
from spyhole.core.outcome import Action, AlarmOutcome, Facts

FRESH_MS = 30 * 60_000
"""What comes back or follows within this is the same trouble; later, it is news."""

Key = tuple[str, str | None]


@dataclass(frozen=True, slots=True)
class Judgement:
    """What a rule found: holds True, False, or None when it could not be judged or lies in the deadband."""

    tag: str
    ring: str | None
    holds: bool | None
    facts: Facts = ()


@dataclass(frozen=True, slots=True)
class OutOfUse:
    """The probe of a ring is out of service since then [axis ms], by whom and why."""

    ring: str
    since_ms: int
    reason: str
    who: str


@dataclass(frozen=True, slots=True)
class AlarmBook:
    """alarms: those not quiet, in order of first trouble. episodes: the number of the last one.

    out: probes out of service, until somebody puts them back.
    """

    alarms: tuple[Alarm, ...] = ()
    episodes: int = 0
    out: tuple[OutOfUse, ...] = ()

    def of(self, episode: str) -> tuple[Alarm, ...]:
        """The alarms of one episode, as long as one of them is open."""
        return tuple(a for a in self.alarms if a.episode == episode and a.standing is not Standing.NORMAL)

    @property
    def out_rings(self) -> frozenset[str]:
        """Rings whose probe is out of service."""
        return frozenset(one.ring for one in self.out)


class _Round:
    """One round over the book: alarms by key, and what is said of them. For this file only."""

    def __init__(self, book: AlarmBook, now_ms: int, utc_ms: int) -> None:
        self.book, self.now_ms, self.utc_ms = book, now_ms, utc_ms
        self.alarms: dict[Key, Alarm] = {(a.tag, a.ring): a for a in book.alarms}
        self.episodes = book.episodes
        self.outcomes: list[AlarmOutcome] = []

    def close(self, out: tuple[OutOfUse, ...]) -> tuple[AlarmBook, tuple[AlarmOutcome, ...]]:
        kept = tuple(a for a in self.alarms.values() if not a.quiet)
        return AlarmBook(kept, self.episodes, out), tuple(self.outcomes)

    def changed(self, alarm: Alarm, change: Change) -> None:
        """An alarm has taken a step."""
        if change is Change.CLEARED:
            if alarm.logged:
                self._say(alarm, Action.CLEAR, tell=False)
            self._keep(replace(alarm, logged=False))
            return
        before, others = alarm.episode, self._others(alarm)
        goes_on = any(a.active and a.episode == before and RANK[a.priority] >= RANK[alarm.priority] for a in others)
        stale = bool(before) and self.now_ms - alarm.cleared_ms > FRESH_MS and not goes_on
        alarm = self._in_an_episode(alarm, others)
        worst = max((RANK[a.priority] for a in others if a.episode == alarm.episode), default=-1)
        seen_before = alarm.episode == before
        first = RANK[alarm.priority] > worst and not seen_before
        anew = CATALOGUE[alarm.tag].anew and change is Change.RAISED
        news = change in (Change.AGAIN, Change.WORSE) or stale or first or anew
        self._raise(alarm, tell=news)

    def uncovered(self, alarm: Alarm) -> None:
        """The last overlay has gone. What holds is told, unless somebody is being called for the same trouble."""
        if not alarm.calls:
            self._keep(alarm)
            return
        others = self._others(alarm)
        alarm = self._in_an_episode(alarm, others)
        called = any(
            a.calls and a.episode == alarm.episode and RANK[a.priority] >= RANK[alarm.priority] for a in others
        )
        self._raise(alarm, tell=not called)

    def _raise(self, alarm: Alarm, *, tell: bool) -> None:
        alarm = replace(alarm, raised_utc_ms=self.utc_ms)
        if alarm.overlay is Standing.BY_DESIGN:
            # The rule does not apply here: that its condition is met is no news, and no line in the record.
            self._keep(alarm)
            return
        self._say(alarm, Action.RAISE, tell=tell and alarm.overlay is None)
        if not alarm.active:
            # Latched, and over while nobody was to be called.
            self._say(alarm, Action.CLEAR, tell=False)
        self._keep(replace(alarm, logged=alarm.active))

    def _say(self, alarm: Alarm, action: Action, *, tell: bool) -> None:
        facts = alarm.facts if alarm.overlay is None else (*alarm.facts, ("overlay", alarm.overlay.value))
        self.outcomes.append(
            AlarmOutcome(self.utc_ms, alarm.episode, alarm.tag, alarm.ring, alarm.priority, action, tell, facts)
        )

    def _keep(self, alarm: Alarm) -> None:
        self.alarms[(alarm.tag, alarm.ring)] = alarm

    def _others(self, alarm: Alarm) -> tuple[Alarm, ...]:
        """Those that are heard, and that this one can follow from: they hold, or ended only just now."""
        key = (alarm.tag, alarm.ring)
        return tuple(a for k, a in self.alarms.items() if k != key and a.overlay is None and _open(a, self.now_ms))

    def _in_an_episode(self, alarm: Alarm, others: tuple[Alarm, ...]) -> Alarm:
        episode = _episode(alarm, others)
        if episode is None:
            self.episodes += 1
            episode = f"a{self.episodes}"
        return replace(alarm, episode=episode)


def judge(
    book: AlarmBook,
    judgements: tuple[Judgement, ...],
    candling: bool,
    now_ms: int,
    utc_ms: int,
    by_design: frozenset[str] = frozenset(),
) -> tuple[AlarmBook, tuple[AlarmOutcome, ...]]:
    """The book after one round of judgements. An alarm that no rule spoke of stays as it was; what lies over it ends.

    by_design: tags that do not apply in this part of the firing.
    """
    turn, out = _Round(book, now_ms, utc_ms), book.out_rings

    # An overlay that begins with this round is there before its condition; one that ends waits for it.
    for one in book.alarms:
        designed = one.by_design or one.tag in by_design
        covered, _ = cover(one, now_ms, shelf=one.shelf, out=one.ring in out, by_design=designed)
        turn.alarms[(one.tag, one.ring)] = covered
    for found in judgements:
        alarm = turn.alarms.get((found.tag, found.ring))
        if alarm is None:
            if not found.holds:
                continue
            alarm = Alarm(found.tag, found.ring, out=found.ring in out, by_design=found.tag in by_design)
        declared = CATALOGUE[found.tag]
        alarm, change = step(declared, alarm, found.holds, now_ms, declared.priority_when(candling))
        if alarm.active and found.facts and found.holds is not False:  # while it clears, what was seen last stands
            alarm = replace(alarm, facts=found.facts)
        turn.alarms[(found.tag, found.ring)] = alarm
        if change is not None:
            turn.changed(alarm, change)
    for one in tuple(turn.alarms.values()):
        shelf = one.shelf if one.shelf is not None and now_ms < one.shelf.until_ms else None
        bare, judged = cover(one, now_ms, shelf=shelf, out=one.out, by_design=one.tag in by_design)
        turn.alarms[(one.tag, one.ring)] = bare
        if judged:
            turn.uncovered(bare)
    return turn.close(book.out)


def shelve(book: AlarmBook, told: Shelving, now_ms: int, utc_ms: int) -> tuple[AlarmBook, tuple[AlarmOutcome, ...]]:
    """An alarm put aside for a time, or taken back by hand (0 minutes): then it is judged at once."""
    if told.tag not in CATALOGUE:
        return book, ()
    turn = _Round(book, now_ms, utc_ms)
    alarm = turn.alarms.get((told.tag, told.ring)) or Alarm(told.tag, told.ring, out=told.ring in book.out_rings)
    minutes = min(told.minutes, shelf_minutes_at_most(CATALOGUE[told.tag].priority))
    shelf = Shelf(now_ms, now_ms + round(minutes * 60_000), told.reason, told.who) if minutes > 0 else None
    alarm, judged = cover(
        alarm, now_ms, shelf=shelf, out=alarm.out, by_design=alarm.by_design, who=told.who, reason=told.reason
    )
    turn.alarms[(told.tag, told.ring)] = alarm
    if judged:
        turn.uncovered(alarm)
    return turn.close(book.out)


def serve(book: AlarmBook, told: OutOfService, now_ms: int, utc_ms: int) -> tuple[AlarmBook, tuple[AlarmOutcome, ...]]:
    """A probe out of service, or back: then what hangs on it is judged at once, as far as it can be."""
    out = tuple(one for one in book.out if one.ring != told.ring)
    if told.out:
        out = (*out, OutOfUse(told.ring, now_ms, told.reason, told.who))
    turn = _Round(book, now_ms, utc_ms)
    for alarm in book.alarms:
        if alarm.ring != told.ring:
            continue
        covered, judged = cover(
            alarm, now_ms, shelf=alarm.shelf, out=told.out, by_design=alarm.by_design, who=told.who, reason=told.reason
        )
        turn.alarms[(alarm.tag, alarm.ring)] = covered
        if judged:
            turn.uncovered(covered)
    return turn.close(out)


def _open(alarm: Alarm, now_ms: int) -> bool:
    """Whether a new alarm can follow from this one: it holds, or ended only just now."""
    return alarm.active or (alarm.standing is not Standing.NORMAL and now_ms - alarm.cleared_ms < FRESH_MS)


def _episode(alarm: Alarm, open_now: tuple[Alarm, ...]) -> str | None:
    """The open episode this alarm belongs to: its own, or that of the trouble it follows from."""
    if alarm.episode:
        return alarm.episode
    trouble = TROUBLE_OF[CATALOGUE[alarm.tag].family]
    for other in reversed(open_now):
        if TROUBLE_OF[CATALOGUE[other.tag].family] != trouble or not other.episode:
            continue
        if trouble == "watch" and other.tag != alarm.tag:
            continue  # what ails the watch is a thing by itself each time
        # Two probes that fail are two troubles, unless one follows from the other or both went at once.
        if trouble != "sight" or alarm.ring in (None, other.ring) or _together(alarm, other):
            return other.episode
    return None


def _together(one: Alarm, other: Alarm) -> bool:
    return one.tag == other.tag and abs(one.since_ms - other.since_ms) < 60_000


def acknowledge_episode(book: AlarmBook, episode: str, who: str, now_ms: int) -> AlarmBook:
    """Somebody has seen it: every alarm of the episode."""
    return _each(book, episode, lambda alarm: acknowledge(alarm, who, now_ms))


def reset_episode(book: AlarmBook, episode: str, who: str = "", now_ms: int = 0) -> AlarmBook:
    """Latched alarms of the episode that are clear and acknowledged go back to normal."""
    return _each(book, episode, lambda alarm: reset(alarm, who, now_ms))


def _each(book: AlarmBook, episode: str, act: Callable[[Alarm], Alarm]) -> AlarmBook:
    acted = (act(alarm) if alarm.episode == episode else alarm for alarm in book.alarms)
    return replace(book, alarms=tuple(alarm for alarm in acted if not alarm.quiet))
