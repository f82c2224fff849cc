"""Where a watch stands: the kiln, the plan, and how people there want to be spoken to."""

from dataclasses import dataclass

from spyhole.core import words
from spyhole.core.kiln import Kiln
from spyhole.core.plan import Plan


@dataclass(frozen=True, slots=True)
class Studio:
    """What the watchkeeper is told of its place. The texts go into the kiln book with each firing."""

    kiln: Kiln
    plan: Plan
    kiln_toml: str
    plan_toml: str
    manner: words.Manner
    tick_seconds: float
    emulated: bool = False
