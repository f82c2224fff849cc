"""What is said of what a kiln has taught: how well its cone is foretold, and what the last firing adds."""

from spyhole.core.learned import LEADS, Learned
from spyhole.core.learning import Odd

TWO_HOURS = LEADS.index(2.0)
WHY = {
    Odd.NOT_DONE: "its firing cone was not seen down by the heat",
    Odd.HEAT_LOST: "heat was lost on the way",
    Odd.PROBE: "a probe was in doubt",
    Odd.UNLIKE: "the kiln took heat unlike all firings before",
    Odd.ASTRAY: "its switches or its probes were for long not as they were believed to be",
    Odd.UNSEEN: "too little of it was seen",
}


def taught(learned: Learned) -> str:
    """What is known of the kiln, and how much that helps."""
    if not learned.slips:
        return "No firing has taught how this kiln takes heat yet: forecasts go by its ratings and the plan."
    many = len(learned.slips)
    firings = "One firing has" if many == 1 else f"The last {many} good firings have"
    said = f"{firings} taught how this kiln takes heat and how it cools."
    missed = [abs(m) for slip in learned.slips if (m := slip.missed[TWO_HOURS]) is not None]
    if not missed:
        return said
    first, last = f"{missed[0]:.0f} min", f"{missed[-1]:.0f} min"
    if len(missed) == 1:
        return f"{said} Two hours before, the cone was foretold to {first}, by the heat."
    return f"{said} Two hours before, the cone was foretold to {first} in the first of them and to {last} in the last."


def lesson(found: Odd | None, said: bool | None) -> str:
    """Whether the next firing learns from the last one. found: what was odd; said: what a person said of it."""
    odd = "" if found is None else WHY[found]
    if said is True:
        return f"The next firing learns from the last one{f', although {odd}' if odd else ''}: somebody said so."
    if said is False:
        return "Nothing is learned from the last firing: somebody said so."
    if odd:
        return f"Nothing is learned from the last firing: {odd}. If it was a good one all the same, say so."
    return "The next firing learns from the last one. If that was an odd one, say so."
