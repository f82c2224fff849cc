"""The firing before this one on the same kiln, and what it taught: a studio's kiln has mostly been fired before.

Another draw of load, damp, room, mains, lot of cones, wear and hand; kiln, probes, plan and habits are the same.
Nothing of the firing that is scored goes into it.
"""

import random
from dataclasses import replace

from family import Case
from hearth import Fired, Keeping
from score import rows

from spyhole.core.entering import lessons
from spyhole.core.entry import Entry, EntryKind
from spyhole.core.journal import Row
from spyhole.core.learned import Learned
from spyhole.core.reading import ProbeReading, Reading
from spyhole.core.watch import begin, step
from spyhole_hardware.emulated.cone import STANDING_AT_60
from spyhole_hardware.emulated.thermal import Load

EVERY, DAY, COLD = 30, 86_400, 120
OF_THE_KILN = ("soak", "probe-lag")
"""Kinds that are the kiln's or the plan's own, so that they were so the last time."""
LOOKS_AT_WITNESSES = 0.7
"""How many of those who write anything write down the cones on the shelf too, and how well an eye judges a bend
[degrees] (invented, as `hearth` has it of the guide cone)."""
EYE_DEGREES = 5.0


def again(case: Case, seed: int, d: random.Random) -> Case:
    """The same kiln and plan with another load, damp, room, mains, lot of cones and lateness, as this chance has it."""
    fuller, wetter, room = d.uniform(0.8, 1.25), d.uniform(0.7, 1.3), case.room + d.gauss(0, 3)
    loads = tuple(
        Load(
            x.ware_kilograms * fuller,
            x.shelf_kilograms,
            x.water_kilograms * wetter,
            x.clay_water_kilograms * fuller,
        )
        for x in case.loads
    )
    return replace(
        case, kind="plain", seed=seed, loads=loads, room=room, start=room, volts=case.volts * d.gauss(1, 0.008),
        lates=[d.uniform(-4, 12) for _ in case.lates], lot=d.gauss(0, 2), last_minutes=(),
    )  # fmt: skip


def is_known(case: Case) -> bool:
    """Whether this kiln was fired under the watch before: three in five, some with a plan that tells of it."""
    return case.kind != "first-firing" and case.seed % 5 in (0, 1, 3)


def earlier(case: Case) -> tuple[Case, Fired]:
    """The firing before this one; elements were a little less worn."""
    d = random.Random(f"earlier {case.seed} {case.kind}")
    before = again(case, case.seed + 700_000, d)
    wear = d.uniform(1.0, 1.02)
    before.watts = [watts * wear for watts in before.watts]
    before.kind = case.kind if case.kind in OF_THE_KILN else "plain"
    keeping = Keeping(before)
    fired = keeping.fire()
    if case.logs != "none" and d.random() < LOOKS_AT_WITNESSES:
        # The pack on the table: the guard cone is the one that is half over, and judged by eye.
        names = list(STANDING_AT_60)
        guard = names[min(names.index(case.plan.cone) + 1, len(names) - 1)]
        bend = max(8.0, keeping.guard.bend_degrees + d.gauss(0, EYE_DEGREES))
        ring = case.kiln.rings[case.plan.reference_ring].name
        value = f"{guard}:{'down' if bend > 88 else round(bend)}"
        fired.entries.append((fired.times[-1] - 120.0, Entry(EntryKind.CONE, ring, value, "Wren")))
    return before, fired


def lesson(case: Case, fired: Fired) -> Learned:
    """What a watch that saw this firing alone, a reading each 30 s, knows of the kiln when the next one is lit.

    That is days later: it has stood cold for a while, which is how a watch knows that a firing nobody ended is over.
    """
    state = begin()
    told = list(rows(case, fired, EVERY))
    probe = ProbeReading(case.room, None, case.room)
    cold = Reading((probe,) * len(case.kiln.probe_rings))
    told += [(told[-1][0] + DAY + EVERY * n, told[-1][1], cold) for n in range(COLD)]
    for sequence, (t, boot, what) in enumerate(told, 1):
        state, _ = step(state, Row("proving", sequence, boot, int(t * 1000) + 60_000, what))
    return lessons(state)
