"""Who is told of alarms, and whether it reaches them. No address comes out here, and none goes in.

People and addresses are changed by command (`spyhole people`), which only who may read the record can use.
"""

from typing import Annotated, Literal

from fastapi import APIRouter, Path
from pydantic import BaseModel, Field

from spyhole.services.office import Office, PersonView
from spyhole.services.people import Rang

Name = Annotated[str, Path(min_length=1, max_length=40, pattern=r"^[^/\x00-\x1f]+$", description="as in the list")]

PEOPLE = [
    {
        "name": "Ruth",
        "role": "keeper",
        "quiet_from": 1320,
        "quiet_to": 420,
        "channels": [
            {
                "person": "Ruth",
                "channel": "phone",
                "loud": False,
                "reach": "well",
                "told_utc_ms": 1951155600000,
                "error": "",
                "error_utc_ms": None,
                "waiting": 0,
                "rang": "yes",
                "rang_utc_ms": 1951155600000,
            }
        ],
    }
]


class RangAsked(BaseModel):
    """Whether the trial message really reached the person."""

    rang: Literal["yes", "no"] = Field(examples=["yes"])


class TrialSent(BaseModel):
    """A trial is on its way. recipient: what it is called in the log; the list says what came of it."""

    recipient: str = Field(examples=["Ruth/phone"])


class Kept(BaseModel):
    """stored: on the disk already, else in memory."""

    stored: bool = Field(examples=[True])


def people_routes(office: Office) -> APIRouter:
    """The list, a trial, and its answer."""
    api = APIRouter(prefix="/api/people", tags=["people"])

    @api.get("", responses={200: {"content": {"application/json": {"example": PEOPLE}}}})
    def everybody() -> tuple[PersonView, ...]:
        """Everybody, with how each of their channels stands."""
        return office.view()

    @api.post("/{person}/channels/{channel}/trial")
    def trial(person: Name, channel: Name) -> TrialSent:
        """Send a trial message by this channel, and look whether the phone rings."""
        return TrialSent(recipient=office.test(person, channel))

    @api.put("/{person}/channels/{channel}/rang")
    def rang(person: Name, channel: Name, asked: RangAsked) -> Kept:
        """Say whether it did."""
        return Kept(stored=office.rang(person, channel, Rang(asked.rang)))

    return api
