"""Plans that are kept, what each should do, and a firing begun by one. A change names the version it changes."""

from typing import Annotated

from fastapi import APIRouter, Header, HTTPException, Path, Query, Response
from fastapi.responses import PlainTextResponse

from spyhole.core.cones.kinetics import cone_names
from spyhole.core.kiln import Kiln
from spyhole.services.desk import Done
from spyhole.services.plans import ChangedMeanwhile, NotThere, Plans, PlanView, Start
from spyhole_web import examples, plan_examples
from spyhole_web.plan_shapes import (
    Key,
    OutlookAsked,
    OutlookView,
    PlanAsked,
    PlanKeptView,
    PlanTomlAsked,
    PlanWho,
    Shelf,
    StartAsked,
    StartOffered,
)
from spyhole_web.problems import DOCUMENTED
from spyhole_web.shapes import Who

NOT_THERE = "No plan is kept under this name. Somebody may have taken it down."
MEANWHILE = (
    "Somebody has changed this plan since you opened it, so yours was not written over theirs. "
    "Load it again, or keep yours as a copy."
)
WHICH = "Say in If-Match which version you change: the ETag it came with."

_404: examples.Responses = {404: {**DOCUMENTED[500], "description": NOT_THERE}}
_413: examples.Responses = {413: {**DOCUMENTED[500], "description": "That is more than a plan file holds."}}
_CHANGES: examples.Responses = {
    **_404,
    412: {**DOCUMENTED[500], "description": MEANWHILE},
    428: {**DOCUMENTED[500], "description": WHICH},
}
_TOML: examples.Responses = {
    200: {"description": "The plan file.", "content": {"text/plain": {"schema": {"type": "string"}}}}
}

PlanKey = Annotated[Key, Path(description="as in the list")]
IfMatch = Annotated[str | None, Header(max_length=40, description="the ETag of the plan as read", examples=['"41208"'])]
By = Annotated[Who, Query()]


def plan_routes(plans: Plans, kiln: Kiln) -> APIRouter:
    """For the kiln that is watched."""
    api = APIRouter(tags=["plans"])

    @api.get("/api/plans", responses=examples.answer(plan_examples.SHELF))
    def shelf() -> Shelf:
        """Every plan that is kept."""
        return Shelf(
            kiln=kiln.name,
            rings=[ring.name for ring in kiln.rings],
            maximum_celsius=kiln.maximum_celsius,
            cone_shutoff=kiln.cone_shutoff,
            cones=list(cone_names()),
            plans=[PlanKeptView.of(one) for one in plans.all()],
        )

    @api.post("/api/plans", status_code=201, responses=plan_examples.created(plan_examples.KEPT))
    def create(asked: PlanAsked, response: Response) -> PlanKeptView:
        """Keep one more plan. One that this kiln cannot follow is refused, with the field and the reason."""
        return _tagged(plans.create_from(asked.plan.table(), asked.who), response)

    @api.post("/api/plans/from-toml", status_code=201, responses={**_413, **plan_examples.created(plan_examples.KEPT)})
    def create_from_toml(asked: PlanTomlAsked, response: Response) -> PlanKeptView:
        """Keep the plan of a plan file."""
        return _tagged(plans.create_from_toml(asked.toml, asked.who), response)

    @api.get("/api/plans/{key}", responses={**_404, **examples.answer(plan_examples.KEPT)})
    def one(key: PlanKey, response: Response) -> PlanKeptView:
        """One plan, with its version as ETag."""
        try:
            return _tagged(plans.one(key), response)
        except NotThere:
            raise HTTPException(404, NOT_THERE) from None

    @api.get("/api/plans/{key}/toml", response_class=PlainTextResponse, responses={**_404, **_TOML})
    def toml(key: PlanKey) -> PlainTextResponse:
        """The plan file, to keep or to hand on."""
        try:
            text = plans.toml(key)
        except NotThere:
            raise HTTPException(404, NOT_THERE) from None
        return PlainTextResponse(text, headers={"content-disposition": f'attachment; filename="{key}.toml"'})

    @api.post(
        "/api/plans/{key}/copies", status_code=201, responses={**_404, **plan_examples.created(plan_examples.KEPT)}
    )
    def copy(key: PlanKey, asked: PlanWho, response: Response) -> PlanKeptView:
        """Keep the same plan again, under a name of its own."""
        try:
            return _tagged(plans.copy(key, asked.who), response)
        except NotThere:
            raise HTTPException(404, NOT_THERE) from None

    @api.put("/api/plans/{key}", responses={**_CHANGES, **examples.answer(plan_examples.KEPT)})
    def change(key: PlanKey, asked: PlanAsked, response: Response, if_match: IfMatch = None) -> PlanKeptView:
        """Write a plan anew. A firing under way goes on by the plan it began with."""
        try:
            return _tagged(plans.change(key, _version(if_match), asked.plan.table(), asked.who), response)
        except NotThere:
            raise HTTPException(404, NOT_THERE) from None
        except ChangedMeanwhile:
            raise HTTPException(412, MEANWHILE) from None

    @api.delete("/api/plans/{key}", responses={**_CHANGES, **examples.answer(examples.DONE)})
    def remove(key: PlanKey, if_match: IfMatch = None, who: By = "") -> Done:
        """Take a plan down. Firings that followed it keep it in the kiln book."""
        try:
            return plans.remove(key, _version(if_match), who)
        except NotThere:
            raise HTTPException(404, NOT_THERE) from None
        except ChangedMeanwhile:
            raise HTTPException(412, MEANWHILE) from None

    @api.post("/api/outlook", responses=examples.answer(plan_examples.OUTLOOK))
    def outlook(asked: OutlookAsked) -> OutlookView:
        """What a plan should do in this kiln: curves, cone, end, timer, doubts. Nothing is kept."""
        return OutlookView.of(plans.outlook(asked.plan.table(), asked.damp, asked.there_utc_ms), kiln)

    @api.get("/api/start", responses=examples.answer(plan_examples.START))
    def start() -> StartOffered:
        """What a firing begun now would be: as last time."""
        seen = plans.beginning()
        return StartOffered.of(seen, plans.table(seen.plan))

    @api.post("/api/firings", responses={**_404, **examples.answer(examples.DONE)})
    def begin(asked: StartAsked) -> Done:
        """Begin a firing. Refused where the lowest-firing clay aboard would melt."""
        wish = asked.model_dump(exclude={"ware"})
        try:
            return plans.start(Start(**wish, ware=None if asked.ware is None else asked.ware.value))
        except NotThere:
            raise HTTPException(404, NOT_THERE) from None

    return api


def _tagged(view: PlanView, response: Response) -> PlanKeptView:
    response.headers["etag"] = f'"{view.version}"'
    return PlanKeptView.of(view)


def _version(if_match: str | None) -> int:
    if if_match is None:
        raise HTTPException(428, WHICH)
    number = if_match.removeprefix("W/").strip('"')
    # What is no number of ours is no version of ours either.
    return int(number) if number.isascii() and number.isdecimal() else -1
