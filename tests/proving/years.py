"""What a kiln teaches from firing to firing: `.venv/bin/python tests/proving/years.py --kilns 12`.

One drawn kiln is fired some times in a row, with other loads, weather, mains, lots of cones and lateness each time, and
one watch sees it all. Nothing is told it of the kiln but its ratings, so what gets better was learned.
"""

import argparse
import random
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from dataclasses import dataclass, replace
from itertools import repeat
from statistics import mean

from earlier import again
from family import Case
from hearth import Fired, Keeping, fire
from run import CORE, hash_of
from score import AFTER, BEFORE, UTC_START, rows

from spyhole.core.journal import Clock, Row
from spyhole.core.learned import Learned
from spyhole.core.learning import Odd, odd
from spyhole.core.outcome import EstimateOutcome
from spyhole.core.state import State, view_of
from spyhole.core.watch import begin, step

KINDS = ("bisque", "plain", "glaze", "three-stages", "five-stages", "cold-room", "plain", "bisque")
APART_SECONDS = 7 * 86_400
EVERY = 30


@dataclass(frozen=True, slots=True)
class Year:
    """One firing of a row. down: minutes that the cone was said too late, by minutes before.

    opening: hours that 100 degC was said too late, by hours after the end.
    """

    down: dict[int, float]
    opening: dict[int, float]
    odd: Odd | None
    learned: Learned


def firings(seed: int, kind: str, count: int) -> Iterator[tuple[Case, Fired]]:
    """The same kiln so often, nothing in its plan of the time before."""
    case, _ = fire(seed, kind)
    d = random.Random(f"years {seed}")
    stages = tuple(replace(s, expected_hours=None, expected_end_celsius=None) for s in case.plan.stages)
    bare = replace(case, plan=replace(case.plan, stages=stages))
    for n in range(count):
        this = replace(again(bare, seed + 1_000_000 * (n + 1), d), logs="all")
        yield this, Keeping(this).fire()


def watched(seed: int, kind: str, count: int) -> list[Year]:
    """Each firing of a row, as one watch foretold it."""
    state, sequence, found = begin(), 0, []
    for n, (case, fired) in enumerate(firings(seed, kind, count)):
        after = n * APART_SECONDS
        estimates: list[tuple[float, EstimateOutcome]] = []
        for t, boot, told in rows(case, fired, EVERY):
            if isinstance(told, Clock):
                told = replace(told, utc_ms=told.utc_ms + after * 1000)
            elif n and not t and not isinstance(told, Clock):
                continue  # the kiln and its plan are known, and who holds the watch
            sequence += 1
            state, outcomes = step(state, Row("years", sequence, boot, int(t + after) * 1000 + 60_000, told))
            estimates += [(t, o) for o in outcomes if isinstance(o, EstimateOutcome)]
        found.append(_year(fired, after, estimates, state))
    return found


def _year(fired: Fired, after: float, estimates: list[tuple[float, EstimateOutcome]], state: State) -> Year:
    down: dict[int, float] = {}
    opening: dict[int, float] = {}
    utc = UTC_START + after * 1000
    if fired.cone_down is not None and (fired.off is None or fired.cone_down <= fired.off):
        for minutes in BEFORE:
            said = _at(estimates, fired.cone_down - minutes * 60)
            if said is not None and said.cone_down is not None:
                down[minutes] = (said.cone_down.median - utc) / 60_000 - fired.cone_down / 60
    if fired.off is not None and fired.open_100 is not None:
        for hours in AFTER:
            said = _at(estimates, fired.off + hours * 3600)
            forecast = None if said is None else dict(said.cool).get(100)
            if forecast is not None:
                opening[hours] = (forecast.median - utc) / 3_600_000 - fired.open_100 / 3600
    view = view_of(state)
    return Year(down, opening, None if view is None else odd(view), state.learned)


def _at(estimates: list[tuple[float, EstimateOutcome]], t: float) -> EstimateOutcome | None:
    return next((e for at, e in reversed(estimates) if t - 120 < at <= t), None)


def table(kilns: list[list[Year]]) -> str:
    """Mean absolute errors, a column a firing."""
    lines = []
    for name, of, unit in (("down", BEFORE, "min"), ("opening", AFTER, "h")):
        for lead in of:
            cells = []
            for nth in zip(*kilns, strict=True):
                errors = [abs(e) for year in nth if (e := getattr(year, name).get(lead)) is not None]
                cells.append(f"{mean(errors):6.1f}" if errors else "     -")
            lines.append(f"{name} {lead:4d} {unit:>3}: " + " ".join(cells))
    left_out = sum(year.odd is not None for years in kilns for year in years)
    return "\n".join([*lines, f"left out as odd: {left_out} of {sum(map(len, kilns))}"])


def main() -> None:
    words = argparse.ArgumentParser(description="What emulated kilns teach from firing to firing.")
    words.add_argument("--kilns", type=int, default=12)
    words.add_argument("--firings", type=int, default=5)
    words.add_argument("--seed", type=int, help="default: from the hash of the engine")
    asked = words.parse_args()
    seed = asked.seed if asked.seed is not None else int(hash_of(CORE)[:6], 16)
    seeds, kinds = [seed + i for i in range(asked.kilns)], [KINDS[i % len(KINDS)] for i in range(asked.kilns)]
    with ProcessPoolExecutor(2) as pool:
        kilns = list(pool.map(watched, seeds, kinds, repeat(asked.firings)))
    print(f"seed {seed}, {asked.kilns} kilns")
    print(table(kilns))


if __name__ == "__main__":
    main()
