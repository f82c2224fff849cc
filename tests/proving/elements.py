"""How well a firing tells how strong its elements were: `.venv/bin/python tests/proving/elements.py --kilns 9`.

Kilns of three rings, each fired eight times with other loads (a quarter more or less in all, each ring by 15 % its
own), another mains (1 %) and another room; in the last two one ring has lost a tenth. What `core.ageing` takes for the
scatter of a ring (`APART_DEVIATION`) and of all of them (`WHOLE_DEVIATION`) was measured with this, and likewise with
each firing told what the one before had taught.
"""

import argparse
import random
from collections.abc import Iterator
from dataclasses import dataclass, replace
from math import log, sqrt
from statistics import fmean, stdev

from family import Case, draw
from hearth import HOUR, Keeping
from score import rows

from spyhole.core.journal import Row
from spyhole.core.measured import Measured
from spyhole.core.watch import begin, step
from spyhole_hardware.emulated.thermal import Load

FIRINGS = 8
WEAK = (6, 7)


@dataclass(frozen=True, slots=True)
class Told:
    """One kiln: which ring is weak in the last two firings, and what each firing said."""

    seed: int
    weak: int
    measured: tuple[Measured, ...]


def measured(case: Case) -> Measured | None:
    """What one firing of it says, a reading each half minute."""
    fired = Keeping(case).fire()
    state = begin()
    for number, (at, boot, told) in enumerate(rows(case, fired, 30), 1):
        state, _ = step(state, Row("proving", number, boot, round(at * 1000), told))
        if state.firing is not None and state.firing.elements is not None:
            return state.firing.elements
    return None


def kiln(seed: int) -> Case | None:
    """A kiln of three rings and probes that reaches its cone within the hours a keeper gives it; None else."""
    case = draw(seed, "bisque" if seed % 2 else "glaze")
    if len(case.kiln.rings) != 3 or len(case.kiln.probe_rings) != 3:
        return None
    case.logs = "all"
    for _ in range(8):
        before = Keeping(replace(case, last_minutes=())).fire()
        last = before.ends[-1][0] / HOUR if before.ends else 0.0
        whole = len(before.ends) == len(case.plan.stages)
        case.last_minutes = tuple(took / 60 for took, _ in before.ends)
        if before.cone_down is not None and last <= 7.5 and whole and last >= 1.3:
            return case
        factor = 1.2 if before.cone_down is None or last > 7.5 else 0.84
        case.watts = [watts * factor for watts in case.watts]
        rings = tuple(replace(ring, watts=round(ring.watts * factor)) for ring in case.kiln.rings)
        case.kiln = replace(case.kiln, rings=rings)
    return None


def fired_again(case: Case, firing: int, weak: int | None) -> Case:
    """The same kiln with another load, mains and room; weak: a ring that has lost a tenth of its watts."""
    d = random.Random(f"{case.seed} load {firing}")
    fuller = d.uniform(0.75, 1.25)
    loads = []
    for load in case.loads:
        own = fuller * d.uniform(0.85, 1.15)
        water = load.water_kilograms * d.uniform(0.5, 1.5)
        loads.append(Load(load.ware_kilograms * own, load.shelf_kilograms, water, load.clay_water_kilograms * own))
    watts = [each * (0.9 if ring == weak else 1.0) for ring, each in enumerate(case.watts)]
    return replace(
        case, seed=case.seed + 1000 * (firing + 1), loads=tuple(loads), room=case.room + d.gauss(0, 4), watts=watts,
        lates=[d.uniform(-4, 12) for _ in case.lates], volts=case.volts * d.gauss(1, 0.01),
    )  # fmt: skip


def told(kilns: int, seed: int) -> Iterator[Told]:
    """So many kilns."""
    while kilns:
        seed += 1
        case = kiln(seed)
        if case is None:
            continue
        kilns -= 1
        weak = seed % 3
        said = [measured(fired_again(case, n, weak if n in WEAK else None)) for n in range(FIRINGS)]
        if all(said):
            yield Told(seed, weak, tuple(one for one in said if one is not None))


def apart(one: Measured, ring: int) -> float:
    """A ring against the mean of all."""
    belief = one.apart[ring]
    assert belief is not None
    return belief.value


def main() -> None:
    words = argparse.ArgumentParser(description="How well a firing tells how strong its elements were.")
    words.add_argument("--kilns", type=int, default=9)
    words.add_argument("--seed", type=int, default=100)
    asked = words.parse_args()
    rings: list[float] = []
    wholes: list[float] = []
    lost: list[float] = []
    for one in told(asked.kilns, asked.seed):
        well = [each for n, each in enumerate(one.measured) if n not in WEAK]
        free = sqrt(len(well) / (len(well) - 1))
        for ring in range(3):
            usual = fmean(apart(each, ring) for each in well)
            rings += [(apart(each, ring) - usual) * free for each in well]
        usual = fmean(each.whole.value for each in well)
        wholes += [(each.whole.value - usual) * free for each in well]
        usual = fmean(apart(each, one.weak) for each in well)
        lost += [apart(one.measured[n], one.weak) - usual for n in WEAK]
        # A ring against the mean of three strays less than by itself, by the root of two thirds.
        print(
            f"kiln {one.seed}: a ring strays {stdev(rings) / sqrt(2 / 3):.4f} (furthest {max(map(abs, rings)):.4f}), "
            f"all of them {stdev(wholes):.3f}; a tenth lost shows as {fmean(lost):.4f} of {log(0.9) * 2 / 3:.4f}",
            flush=True,
        )


if __name__ == "__main__":
    main()
