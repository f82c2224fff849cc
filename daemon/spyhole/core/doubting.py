"""Where curve and log tell a turn differently, somebody is asked, once and plainly; what they say is believed.

The curve goes ahead of the log where it shows the plan's next stage: nothing waits for an answer. A turn that is
written down and was not made stays believed until somebody says so, for elements that failed look the same.
"""

from dataclasses import replace

from spyhole.core.alarms.book import AlarmBook
from spyhole.core.concluded import BESIDE_MS, Concluded, TurnAnswer, TurnAsked, TurnSaid
from spyhole.core.entry import EntryKind
from spyhole.core.firing import Firing, Written, believed_afresh
from spyhole.core.modelling import weigh
from spyhole.core.outcome import Facts, PromptOutcome
from spyhole.core.thermal.model import whole_minute_ms
from spyhole.core.turns import SURE, Turn
from spyhole.core.view import View

MINUTE_MS = 60_000
WRITES_MS = 20 * MINUTE_MS
"""Who writes turns down has done so by then (chosen): nobody is asked before."""
SHOWS_MS = 9 * MINUTE_MS
LATE_MS = 4 * MINUTE_MS
"""A turn shows in the curve after the one, and the minutes looked at may begin no more than the other after it."""
STRAYS_MS = 20 * MINUTE_MS
"""A turn that nobody wrote down is found sooner: of a runaway that stands so long the model has learned (chosen)."""
DENIED_MS = 60 * MINUTE_MS
"""For so long whoever is at the kiln knows better than its curve (chosen)."""
UNANSWERED = "turn unanswered"
"""Who neither writes turns down nor answers is asked once in a firing: the curve and the plan do without."""


def follow(view: View, sequence: int) -> tuple[Firing, tuple[PromptOutcome, ...]]:
    """The firing with its question, and the question where it is new. sequence: of the row that is folded."""
    firing = view.firing
    if firing.turn_asked is not None:
        if _stands(firing, firing.turn_asked):
            return firing, ()
        said = firing.said if UNANSWERED in firing.said else (*firing.said, UNANSWERED)
        return replace(firing, turn_asked=None, said=said), ()
    if firing.off or not firing.heating or (UNANSWERED in firing.said and not turned_by_hand(firing, 0)):
        return firing, ()
    found = _unwritten(view) or _not_made(view)
    if found is None:
        return firing, ()
    turn, by_curve, entries = found
    key = f"turn asked {turn.stage} {turn.at_ms}"
    if key in firing.said:
        return firing, ()
    asked = TurnAsked(sequence, view.now_ms, turn, by_curve, tuple(w.sequence for w in entries))
    firing = replace(firing, turn_asked=asked, said=(*firing.said, key))
    return firing, (PromptOutcome(view.utc_ms, "turn-doubted", facts(firing, asked, view.utc_ms - view.now_ms)),)


def facts(firing: Firing, asked: TurnAsked, utc_less_axis_ms: int) -> Facts:
    """What a sentence about it needs."""
    names = [ring.name for ring in firing.kiln.rings]
    wrong = [w.entry for w in firing.written if w.sequence in asked.entries]
    return (
        ("turns", ", ".join(f"{names[i]} {asked.turn.switches[i].value}" for i in asked.turn.rings)),
        ("at_utc_ms", asked.turn.at_ms + utc_less_axis_ms),
        ("written", ", ".join(f"{one.subject} {one.value}" for one in wrong) if asked.by_curve else None),
        ("by_curve", int(asked.by_curve)),
    )


def answered(firing: Firing, told: TurnAnswer, now_ms: int) -> Firing:
    """The firing once its question is answered. A turn taken from the curve gives way to what is written down now."""
    asked = firing.turn_asked
    if asked is None or asked.sequence != told.question:
        return firing
    firing = replace(firing, turn_asked=None)
    if not asked.by_curve:
        return firing
    if told.said is TurnSaid.NO:
        firing = replace(firing, denied=(*firing.denied, (asked.turn.stage, now_ms + DENIED_MS)))
    kept = tuple(turn for turn in firing.concluded if turn != asked.turn)
    afresh = believed_afresh(replace(firing, concluded=kept))
    return replace(afresh, timer_ends_ms=firing.timer_ends_ms)


def _stands(firing: Firing, asked: TurnAsked) -> bool:
    """Whether it is still worth an answer: neither written down meanwhile, nor taken back, nor overtaken."""
    turn = asked.turn
    if firing.off or not firing.heating or firing.switches != turn.switches:
        return False
    if asked.by_curve:
        return turn in firing.concluded and not all(firing.sure[ring] for ring in turn.rings)
    return not any(w.undone for w in firing.written if w.sequence in asked.entries)


Found = tuple[Concluded, bool, tuple[Written, ...]]


def _unwritten(view: View) -> Found | None:
    """The last turn that the curve showed, if nobody wrote it down, or not so."""
    firing = view.firing
    if not firing.concluded:
        return None
    turn = firing.concluded[-1]
    late = view.now_ms - turn.at_ms >= WRITES_MS
    stands = firing.switches == turn.switches and not all(firing.sure[ring] for ring in turn.rings)
    if not (turn.seen and turn.rings and late and stands):
        return None
    return turn, True, tuple(w for w in turned_by_hand(firing, turn.at_ms - BESIDE_MS) if _denies(firing, w, turn))


def _denies(firing: Firing, written: Written, turn: Concluded) -> bool:
    ring = firing.kiln.ring_index(written.entry.subject)
    beside = abs(written.at_ms - turn.at_ms) <= BESIDE_MS
    return beside and ring in turn.rings and written.entry.value != turn.switches[ring].value


def _not_made(view: View) -> Found | None:
    """The last turn that was written down, if the curve goes on as if it had not been made."""
    firing, model, to_ms = view.firing, view.firing.model, whole_minute_ms(view.now_ms)
    if model is None or not model.moved_at(view.now_ms) or view.misled:
        return None
    entries = turned_by_hand(firing, model.settled.at_ms - LATE_MS)
    if not entries or to_ms - max(w.at_ms for w in entries) < SHOWS_MS:
        return None
    sequences = {w.sequence for w in entries}
    written = tuple(replace(w, undone=True) if w.sequence in sequences else w for w in firing.written)
    before = believed_afresh(replace(firing, written=written))
    at_ms = min(w.at_ms for w in entries)
    turn = Concluded(firing.switches, before.switches, at_ms, firing.stage, len(firing.written))
    if before.off or not turn.rings:
        return None
    weighed = weigh(view, (Turn(before.switches, at_ms, before.stage),), to_ms)
    return (turn, False, entries) if any(gain > SURE for gain, _, _ in weighed) else None


def turned_by_hand(firing: Firing, since_ms: int) -> tuple[Written, ...]:
    """The turns that somebody wrote down as made from then on, and did not take back."""
    return tuple(w for w in firing.written if w.entry.kind is EntryKind.SWITCH and not w.undone and w.at_ms >= since_ms)


def strays(alarms: AlarmBook, now_ms: int) -> bool:
    """Whether a ring has for long got more than its switches are believed to give, or numbers stand at wrong rings."""
    return any(
        one.active and (one.tag == "probe-swapped" or (one.tag == "runaway" and now_ms - one.since_ms >= STRAYS_MS))
        for one in alarms.alarms
    )
