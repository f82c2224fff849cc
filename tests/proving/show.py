"""One firing of the proving ground: `.venv/bin/python tests/proving/show.py shutoff-jams 17 --seconds 30`."""

import argparse

from earlier import earlier, is_known, lesson
from hearth import fire
from kinds import HEALTHY, TROUBLES
from score import UTC_START, judge, watch


def main() -> None:
    words = argparse.ArgumentParser(description="Alarms, truth and forecasts of one firing.")
    words.add_argument("kind", choices=(*HEALTHY, *TROUBLES))
    words.add_argument("seed", type=int)
    words.add_argument("--seconds", type=int, default=30)
    asked = words.parse_args()
    case, fired = fire(asked.seed, asked.kind)
    learned = lesson(*earlier(case)) if is_known(case) else None
    alarms, found, questions = watch(case, fired, asked.seconds, learned)
    estimates = [e for _, e in found]
    result = judge(case, fired, alarms, found, questions, asked.seconds, learned is not None)
    hours = {n: t and round(t / 3600, 2) for n, t in (("onset", fired.onset), ("cone down", fired.cone_down),
             ("off", fired.off), ("100 degC", fired.open_100))}  # fmt: skip
    print(
        "truth, hours:", hours, "ring", fired.sick, "seen after", fired.seen, "min; guard rise", round(fired.guard_rise)
    )
    for at, entry in fired.entries:
        print(f"  {at / 3600:6.2f} h  entry {entry.kind.value} {entry.subject} {entry.value}")
    for minutes, tag, ring, tell in result["said"]:
        print(f"  {minutes / 60:6.2f} h  {tag} {ring or ''}{' (told)' if tell else ''}")
    for e in estimates[::60]:
        at = (e.utc_ms - UTC_START) / 3_600_000
        down = "-"
        if e.cone_down is not None:
            low, mid, high = (
                (x - UTC_START) / 3_600_000 for x in (e.cone_down.low, e.cone_down.median, e.cone_down.high)
            )
            down = f"{mid:.2f} h ({low:.2f}-{high:.2f})"
        rings = " ".join(f"{r.celsius:.0f}/{r.switch.value}" if r.celsius is not None else "-" for r in e.rings)
        print(f"  {at:6.2f} h  {e.stage:9} {rings}  cone {e.cone_progress or 0:.2f}  down {down}")
    print({k: v for k, v in result.items() if k not in ("said", "down")})
    print(result["down"])


if __name__ == "__main__":
    main()
