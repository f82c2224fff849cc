"""A probe whose number drifts, told from a ring that gets less by what all of them have done since.

`departing` holds each probe against its neighbours as they are now, which takes a far departure, and an hour after a
turn. Here the whole last hour and a half is explained, once by a number that drifts and once by watts that changed:
a drift begins at any time and grows evenly, and the neighbours of that ring go on as if nothing were; watts are lost
at once, are felt by the neighbours, and a ring is on its new way before the hour is over.
"""

from dataclasses import replace
from statistics import median

from spyhole.core.curve.trust import Doubts
from spyhole.core.departing import EACH_MS, LEAST_PROBES, ODD_MS, doubted, gets_no_more
from spyhole.core.firing import Firing
from spyhole.core.thermal.belief import is_drying
from spyhole.core.thermal.departure import Memory
from spyhole.core.thermal.model import whole_minute_ms
from spyhole.core.thermal.suspects import HOUR_MS, Course, Suspect, Suspects, apart, suspects
from spyhole.core.turns import at_minute
from spyhole.core.view import View

MINUTE_MS = 60_000
WINDOW_MS = 80 * MINUTE_MS
"""How far back it is looked at least; a drift is to be found within an hour, and what was before it shows what is not
new."""
LEAST_CELSIUS = 300.0
"""Below this rings hardly feel each other, and water leaves the ware."""
WORTH_ASKING_CELSIUS = 6.0
"""By which a probe has parted from the others, before it is asked why: that takes a while to work out."""
GAIN, GAIN_TIMES_LEFT = 6.0, 15.0
"""By how much squared deviations fall with a drift that is told: in itself, and more where the model fits its kiln less
well (both chosen)."""
OVER_RINGS, OVER_RINGS_SHARE = 3.0, 0.06
"""By how much more than with a change of any ring's watts: in itself, and as a share of all that a drift explains."""
OVER_PROBES_SHARE = 0.25
"""The same against a drift of any other probe: the others seem to drift a little the other way."""
LEFT, LEFT_SHARE = 0.8, 0.15
"""Mean squared deviations left over, at most, in themselves and of those that the drift explains: a model that is wrong
about its kiln accuses nobody. Healthy kilns of the proving ground leave 0.1; no drift is quite even."""
ACCUSED_TIMES = 2.0
BEFORE_MS = 15 * MINUTE_MS
"""How many times as much where a ring is held to lack heat already, its own or one that cools it, or the kiln goes as
no model has it or did so hours ago, and how much has to be seen of the time before: a drift looks so, and so does what
really is the kiln's (chosen)."""
TURN_MS = 13 * MINUTE_MS
TURN_TIMES = 2.5
"""So soon after a turn what begins is mostly that ring's new switch, and no wire's doing: it has to be so many times
surer (two healthy kilns of 64 of another hand were doubted, by what began 5 and 12 minutes after a turn)."""
LATELY_MS, LATELY_PART = 10 * MINUTE_MS, 0.5
"""While the clay gives its water up, a ring that does so after the others parts from them and comes back: a drift has
gone on of late, by so much of its pace (chosen)."""
LASTS_MS = 18 * MINUTE_MS
DRIFTS_CELSIUS = 9.0
MOST_CELSIUS_PER_HOUR = 70.0
"""How long and how far it has drifted, at least, and how fast at most: what is faster slips, or is a ring."""


def drifting(view: View) -> tuple[Firing, Doubts]:
    """The firing, and the doubts with a probe that drifts. Asked when `departing` has just judged too."""
    firing, memory, model = view.firing, view.firing.memory, view.firing.model
    if model is None or memory is None or firing.off or not firing.heating or view.now_ms != memory.judged_ms:
        return firing, view.doubts
    course = _course(view, memory)
    found = _asked(course) if course is not None else None
    if course is None or found is None:
        return replace(firing, memory=replace(memory, drifts=None)), view.doubts
    one = max(found.numbers, key=lambda s: s.gain)
    if not _drifts(view, course, found, one):
        return replace(firing, memory=replace(memory, drifts=None)), view.doubts
    firing = replace(firing, memory=replace(memory, drifts=one.place))
    if memory.drifts != one.place:
        return firing, view.doubts
    departure = one.amount * (course.times_ms[-1] - one.since_ms) / HOUR_MS
    settled = one.amount * max(0, model.settled.at_ms - one.since_ms) / HOUR_MS
    before = next(past for past in reversed(memory.pasts) if past.at_ms <= one.since_ms)
    return doubted(replace(view, firing=firing), one.place, before.logs, departure, settled)


def _course(view: View, memory: Memory) -> Course | None:
    """What is to be explained; None where too little is seen, or the model is known to be wrong."""
    if not memory.pasts:
        return None
    firing, past, to_ms = view.firing, memory.pasts[0], whole_minute_ms(view.now_ms)
    places = firing.kiln.probe_rings
    if len(places) < LEAST_PROBES or not all(view.fit) or view.misled or firing.candling:
        return None
    if to_ms - past.at_ms < WINDOW_MS or any(out.shares[r] == 0.0 for _, out in memory.told for r in places):
        return None
    times = (*range(past.at_ms, to_ms - EACH_MS // 2, EACH_MS), to_ms)
    read = [tuple(at_minute(track.minutes, t) for track in view.tracks) for t in times[1:]]
    known = tuple(tuple(c for c in now if c is not None) for now in read)
    if any(len(now) < len(places) for now in known) or min(known[-1]) < LEAST_CELSIUS:
        return None
    return Course(past, memory.told, times, places, known)


def _asked(course: Course) -> Suspects | None:
    """Who may have parted the rings; None where they have hardly parted."""
    off = apart(course)[-1]
    parted = max(abs(own - median(o for j, o in enumerate(off) if j != i)) for i, own in enumerate(off))
    return suspects(course) if parted > WORTH_ASKING_CELSIUS else None


def _drifts(view: View, course: Course, found: Suspects, one: Suspect) -> bool:
    """Whether this probe's number drifts beyond doubt, and nothing else explains it."""
    lasts_ms = course.times_ms[-1] - one.since_ms
    far = abs(one.amount) * lasts_ms / HOUR_MS >= DRIFTS_CELSIUS and abs(one.amount) <= MOST_CELSIUS_PER_HOUR
    left = found.square - one.gain / found.readings
    if one.gain < GAIN + GAIN_TIMES_LEFT * left or left > LEFT + LEFT_SHARE * (found.square - left):
        return False
    if not far or lasts_ms < LASTS_MS or (gave_water(course, one) and not goes_on(course, one)):
        return False
    memory, over = view.firing.memory, max(OVER_RINGS, OVER_RINGS_SHARE * one.gain)
    lacks = any(at is not None for at in view.firing.lacked)
    odd_ms = None if memory is None else memory.odd_ms
    if lacks or (odd_ms is not None and view.now_ms - odd_ms < ODD_MS):
        over *= ACCUSED_TIMES
    young = one.since_ms - course.times_ms[0] < BEFORE_MS
    now_odd = odd_ms is not None and odd_ms >= course.times_ms[0]
    if (lacks or now_odd) and (young or _was_odd(memory, course.times_ms[0], one.since_ms)):
        return False
    if -EACH_MS <= one.since_ms - view.firing.changed_ms <= TURN_MS:
        over *= TURN_TIMES
    probes = max(other.gain for other in found.numbers if other.place != one.place)
    rings = max((r.gain for r in found.rings if r.amount > 0.0 or not gets_no_more(view, r.place)), default=0.0)
    if one.gain < max((other.gain for other in found.rings), default=0.0):
        return False  # a ring that lagged with its load catches up as if it got more than it can
    return one.gain - probes >= OVER_PROBES_SHARE * one.gain and one.gain - rings >= over


def gave_water(course: Course, one: Suspect) -> bool:
    """Whether any ring has been where clay gives up its water since the number seemed to drift."""
    since = (now for t, now in zip(course.times_ms[1:], course.read, strict=True) if t >= one.since_ms)
    return any(is_drying(celsius, course.told[-1][1]) for now in since for celsius in now)


def goes_on(course: Course, one: Suspect) -> bool:
    """Whether it has parted from the others of late as it did before."""
    beside = []
    for row in apart(course):
        others = median(off for place, off in enumerate(row) if place != one.place)
        beside.append(row[one.place] - others)
    lately = [off for t, off in zip(course.times_ms[1:], beside, strict=True) if t >= course.times_ms[-1] - LATELY_MS]
    hours = LATELY_MS / HOUR_MS
    return (lately[-1] - lately[0]) / one.amount >= LATELY_PART * hours


def _was_odd(memory: Memory | None, from_ms: int, since_ms: int) -> bool:
    """Whether the kiln did what no drift does in this course, and before the drift."""
    if memory is None or memory.odd_ms is None:
        return False
    earlier = memory.odd_earlier_ms is not None and memory.odd_earlier_ms >= from_ms
    began_ms = memory.odd_ms if memory.odd_from_ms is None else memory.odd_from_ms
    return earlier or (memory.odd_ms >= from_ms and began_ms <= since_ms)
