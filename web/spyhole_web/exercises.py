"""Exercises at the emulated kiln. These addresses exist in a rehearsal only."""

from fastapi import APIRouter
from pydantic import Field

from spyhole.services.exercising import ExerciseLine, ExerciseView, Tutor
from spyhole_web import examples
from spyhole_web.shapes import Asked

LINES = [
    {
        "name": "shut-off-jammed",
        "title": "The shut-off has jammed",
        "story": "You come back to the kiln room in the last stage. An alarm calls. What now?",
    }
]
VIEW: examples.Example = {
    "stage": "over",
    **LINES[0],
    "words": "Here is what was right, and what is better next time.",
    "asked_utc_ms": examples.NOON,
    "verdict": {
        "right": [{"words": "Every switch off.", "why": "The shut-off will not do it.", "seconds": 41.0}],
        "late": [],
        "early": [],
        "missed": [{"words": "Look in at the cones, with glasses.", "why": "Numbers guess.", "seconds": None}],
        "slips": [],
    },
    "closing": "If it heats with every switch off, a switch is welded.",
}


class ExerciseAsked(Asked):
    """Which one."""

    name: str = Field(min_length=1, max_length=40, examples=["shut-off-jammed"])


def exercise_routes(tutor: Tutor) -> APIRouter:
    """Begin one, see how it stands, say that this is all, or leave it."""
    api = APIRouter(prefix="/api/exercises", tags=["rehearsal"])

    @api.get("", responses={200: {"content": {"application/json": {"example": LINES}}}})
    def there() -> tuple[ExerciseLine, ...]:
        """Those there are."""
        return tutor.exercises()

    @api.get("/now", responses=examples.answer(VIEW))
    def now() -> ExerciseView:
        """The one under way: setting, asking, over; or none."""
        return tutor.view()

    @api.post("/now", responses=examples.answer({**VIEW, "stage": "setting", "verdict": None, "closing": ""}))
    def begin(asked: ExerciseAsked) -> ExerciseView:
        """Bring the emulated kiln to the moment, in fast time. Then the question is asked, and acts count."""
        return tutor.begin(asked.name)

    @api.post("/now/verdict", responses=examples.answer(VIEW))
    def finish() -> ExerciseView:
        """This is all that would be done: what was right, what was missed, and why."""
        return tutor.finish()

    @api.delete("/now", responses=examples.answer({**VIEW, "stage": "none", "verdict": None}))
    def leave() -> ExerciseView:
        """Leave it. The kiln is mended, and goes on as it stands."""
        return tutor.leave()

    return api
