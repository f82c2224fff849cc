"""Where a link in a message leads: a page that asks, and a button that answers.

Opening it changes nothing: mail scanners open every link there is. Only the button does.
"""

from collections.abc import Callable
from html import escape
from typing import Annotated

from fastapi import APIRouter, Path
from fastapi.responses import HTMLResponse

from spyhole.core.refusal import Refusal
from spyhole.services.desk import Desk
from spyhole.services.links import Claim, LinksPort, Purpose
from spyhole.services.snapshot import AlarmView, Snapshot

Token = Annotated[str, Path(max_length=600, pattern=r"^[A-Za-z0-9_.-]+$", description="as in the message")]

_PAGE = """<!doctype html>
<html lang="en"><head><meta charset="utf-8"><meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="robots" content="noindex"><title>{title}</title></head>
<body><main><h1>{title}</h1><p>{words}</p>{form}<p><a href="/">Look at the kiln</a></p></main></body></html>
"""
_FORM = '<form method="post"><button type="submit">{label}</button></form>'

OLD = "This link is no good", "It is too old, or not from this kiln. Open the page of the kiln instead."
ANSWERS: dict[int | str, dict[str, object]] = {
    410: {"description": "The link is too old, or not ours.", "content": {"text/html": {}}},
    409: {"description": "It could not be acknowledged.", "content": {"text/html": {}}},
}


def link_routes(desk: Desk, links: LinksPort, in_reach: Callable[[str], object]) -> APIRouter:
    """in_reach: somebody has answered 'are you in reach?'."""
    pages = APIRouter(tags=["links"], default_response_class=HTMLResponse)

    @pages.get("/link/{token}", responses=ANSWERS)
    def ask(token: Token) -> HTMLResponse:
        """What the link in a message is about, with a button. Changes nothing."""
        now = desk.now()
        claim = _good(links.read(token), now)
        if claim is None:
            return _page(*OLD, status=410)
        if claim.purpose is Purpose.IN_REACH:
            return _page(f"{now.kiln}: are you in reach?", f"{claim.person}, {now.sentence}", "I am in reach")
        alarm = _alarm(claim, now)
        if alarm is None:
            return _page(f"{now.kiln}: this is over", f"Nothing stands under {claim.subject} any more. {now.sentence}")
        if alarm.acknowledged:
            return _page(f"{now.kiln}: acknowledged already", f"{alarm.acknowledged_by or 'Somebody'} sees to it.")
        words = f"{alarm.seen} {alarm.first_action} {claim.person}, do you see to it?"
        return _page(f"{now.kiln}: do you see to it?", words, "I see to it")

    @pages.post("/link/{token}", responses=ANSWERS)
    def answer(token: Token) -> HTMLResponse:
        """The button: acknowledges the episode, or says that this person is in reach. Works once an episode."""
        now = desk.now()
        claim = _good(links.read(token), now)
        if claim is None:
            return _page(*OLD, status=410)
        if claim.purpose is Purpose.IN_REACH:
            try:
                in_reach(claim.person)
            except Refusal as refusal:
                return _page(f"{now.kiln}: not written down", f"{refusal}", status=409)
            return _page(f"{now.kiln}: written down", f"{claim.person} is in reach.")
        alarm = _alarm(claim, now)
        if alarm is None or alarm.acknowledged:
            return _page(f"{now.kiln}: nothing to acknowledge", "It is over, or somebody has acknowledged it already.")
        try:
            desk.acknowledge(claim.subject, claim.person)
        except Refusal as refusal:
            return _page(f"{now.kiln}: not acknowledged", f"{refusal}", status=409)
        return _page(f"{now.kiln}: acknowledged", f"{claim.person} sees to it. {alarm.first_action}")

    return pages


def _good(claim: Claim | None, now: Snapshot) -> Claim | None:
    return claim if claim is not None and now.now_utc_ms < claim.until_utc_ms else None


def _alarm(claim: Claim, now: Snapshot) -> AlarmView | None:
    return next((alarm for alarm in now.alarms if alarm.episode == claim.subject), None)


def _page(title: str, words: str, button: str = "", *, status: int = 200) -> HTMLResponse:
    form = _FORM.format(label=escape(button)) if button else ""
    return HTMLResponse(_PAGE.format(title=escape(title), words=escape(words), form=form), status)
