"""Kilns far from those that `other_hand` draws, of the same physics: `tests/proving/black_box.py --far`.

Four sorts by turns, which a studio may well have: lined with fibre, light and steep in how it conducts; large and
heavy; a small test kiln; and one like the others whose probes see only air, bare and quick or in a thick sheath. Ranges
are common practice, no source.
"""

import random
from dataclasses import replace

from other_hand import Case, end_celsius
from other_kiln import Build

SORTS = ("fibre", "heavy", "small", "bare")


def sort_of(seed: int) -> str:
    """Which of the sorts this seed is."""
    return SORTS[seed % len(SORTS)]


def far(case: Case) -> Case:
    """The case in such a kiln: as full as it was, with elements for it."""
    d = random.Random(f"far {case.kind} {case.seed}")
    sort = sort_of(case.seed)
    build = _built(case.build, sort, d)
    holds = (build.diameter / case.build.diameter) ** 2 * build.ring_height / case.build.ring_height
    wares = tuple(
        replace(
            ware, kilograms=ware.kilograms * holds, water_kilograms=ware.water_kilograms * holds,
            clay_kilograms=ware.clay_kilograms * holds,
        )
        for ware in case.wares
    )  # fmt: skip
    hottest = max(1150.0, end_celsius(case.cone)) + d.uniform(100, 260)
    eyes, noise = case.eyes, case.noise
    if sort == "bare":
        lag, noise = d.choice((d.uniform(8, 25), d.uniform(180, 320))), d.uniform(0.3, 2.2)
        eyes = tuple(
            replace(eye, air=d.uniform(0.6, 0.9), wall=d.uniform(0.05, 0.1), lag_seconds=lag * d.uniform(0.8, 1.2))
            for eye in case.eyes
        )
    watts = (build.watts_to_hold(hottest, 18.0) / 3 / 1.05,) * 3
    return replace(case, build=build, wares=wares, watts=watts, eyes=eyes, noise=noise)


def _built(build: Build, sort: str, d: random.Random) -> Build:
    match sort:
        case "fibre":
            return replace(
                build, wall=d.uniform(0.06, 0.11), conductivity=d.uniform(0.04, 0.07),
                conductivity_rise=d.uniform(1.6e-4, 2.6e-4), density=d.uniform(140, 260),
                heat_capacity=d.uniform(950, 1150),
            )  # fmt: skip
        case "heavy":
            return replace(
                build, diameter=d.uniform(0.7, 0.95), ring_height=d.uniform(0.25, 0.32), wall=d.uniform(0.09, 0.125),
                conductivity=d.uniform(0.12, 0.2), density=d.uniform(650, 950), air_capacity=2.2 * build.air_capacity,
            )  # fmt: skip
        case "small":
            return replace(
                build, diameter=d.uniform(0.25, 0.36), ring_height=d.uniform(0.1, 0.15), wall=d.uniform(0.06, 0.09),
                air_capacity=0.35 * build.air_capacity, leak=0.4 * build.leak,
            )  # fmt: skip
        case _:
            return replace(build, stirring=d.uniform(2, 40), view=d.uniform(0.15, 0.9))
