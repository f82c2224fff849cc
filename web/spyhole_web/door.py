"""The way in: a device comes in by a code, or by name and password; and what lets others in."""

from collections.abc import Callable
from typing import Annotated, Literal

from fastapi import APIRouter, Path, Request, Response
from pydantic import BaseModel, Field, StringConstraints

from spyhole.core.access import DEVICE_DAYS, Kind, Role, Visitor, spoken_code, way_in
from spyhole.services.access import Access, KeyView, Secret
from spyhole_web import examples
from spyhole_web.problems import DOCUMENTED
from spyhole_web.shapes import Asked, Line
from spyhole_web.visitor import asking

KeyId = Annotated[str, Path(pattern=r"^[0-9a-f]{8}$", description="as in the list")]
Label = Annotated[Line, Field(description="what for", examples=["Wednesday class"])]
_MANY: examples.Responses = {429: {**DOCUMENTED[500], "description": "Tried too often. Wait a minute."}}
_OUT: examples.Responses = {403: {**DOCUMENTED[500], "description": "Not for a guest."}}


class CodeTyped(Asked):
    """A code, and who comes in by it. name: needed where the code is for a keeper and says nobody's name."""

    code: Annotated[str, StringConstraints(max_length=40)] = Field(examples=["K7QPM-3TXWD"])
    name: Line = Field(default="", examples=["Ruth"])
    device: Line = Field(default="", examples=["phone"])


class PasswordTyped(Asked):
    """A name and its password."""

    name: Line = Field(examples=["Ruth"])
    password: Annotated[str, StringConstraints(max_length=200)] = Field(examples=["four words of your own"])
    device: Line = Field(default="", examples=["laptop"])


class PasswordAsked(Asked):
    """A password of one's own: 12 characters or more, no other rule."""

    password: Annotated[str, StringConstraints(max_length=200)] = Field(examples=["four words of your own"])


class KeyAsked(Asked):
    """Something that lets others in. code: one keeper's device, once. class: guests, for `days`. token: a program."""

    kind: Literal[Kind.CODE, Kind.CLASS, Kind.TOKEN] = Field(examples=["code"])
    label: Label = ""
    person: Line = Field(default="", description="whose device it will be", examples=["Ruth"])
    role: Role = Field(default=Role.GUEST, description="of a token")
    days: int = Field(default=7, strict=True, ge=1, le=92, description="of a class code")


class Me(BaseModel):
    """Who asks. set_up: whether anybody has come in yet. open: nobody need come in, because this is a rehearsal."""

    name: str
    role: Role
    set_up: bool
    open: bool


class KeyMade(BaseModel):
    """Shown once. address: where a phone goes, with the code behind the hash.

    squares: the same as a square code, rows of 0 and 1 for dark; empty for a token.
    """

    key: KeyView
    words: str
    address: str
    squares: list[str]


class Gone(BaseModel):
    """It lets nobody in any more."""

    gone: bool = True


def door_routes(access: Access, cookie: str, address: str, square: Callable[[str], list[str]]) -> APIRouter:
    """cookie: its name. address: of the page, for links. square: draws a square code, rows of 0 and 1."""
    api = APIRouter(tags=["access"])

    def admit(request: Request, response: Response, let_in: tuple[str, Visitor]) -> Me:
        secret, visitor = let_in
        response.set_cookie(
            cookie, secret, max_age=DEVICE_DAYS * 86_400, httponly=True, samesite="strict",
            secure=request.url.scheme == "https",
        )  # fmt: skip
        return Me(name=visitor.name, role=visitor.role, set_up=access.is_set_up, open=False)

    @api.post("/api/door/code", responses=_MANY)
    def by_code(typed: CodeTyped, request: Request, response: Response) -> Me:
        """Come in by a code. This device is known from then on."""
        return admit(request, response, access.enter(typed.code, typed.name, typed.device, _from(request)))

    @api.post("/api/door/password", responses=_MANY)
    def by_password(typed: PasswordTyped, request: Request, response: Response) -> Me:
        """Come in by name and password."""
        return admit(request, response, access.sign_in(typed.name, typed.password, typed.device, _from(request)))

    @api.get("/api/me")
    def me() -> Me:
        """Who asks."""
        visitor = asking()
        return Me(name=visitor.name, role=visitor.role, set_up=access.is_set_up, open=access.is_open)

    @api.delete("/api/me")
    def leave(response: Response) -> Gone:
        """This device must come in anew. Refused for the only way in that a keeper has."""
        access.sign_out(asking())
        response.delete_cookie(cookie)
        return Gone()

    @api.put("/api/me/password")
    def password(asked: PasswordAsked) -> Gone:
        """Another password for whoever asks; the one before is gone."""
        access.set_password(asking(), asked.password)
        return Gone()

    @api.get("/api/keys", responses=_OUT)
    def keys() -> tuple[KeyView, ...]:
        """Everything that lets anybody in. No secret."""
        return access.view()

    @api.post("/api/keys", responses=_OUT)
    def make(asked: KeyAsked) -> KeyMade:
        """Let somebody in: a code for a keeper's device, a class code for guests, or a token for a program."""
        if asked.kind is Kind.TOKEN:
            return _made(access.token(asked.label, asked.role))
        if asked.kind is Kind.CLASS:
            return _made(access.class_code(asked.label, asked.days))
        return _made(access.code(Role.KEEPER, asked.person, asked.label))

    @api.delete("/api/keys/{key}", responses=_OUT)
    def revoke(key: KeyId) -> Gone:
        """Take one back; whoever came in by it is out at once. Refused for the only way in that a keeper has."""
        access.revoke(key)
        return Gone()

    def _made(secret: Secret) -> KeyMade:
        if secret.view.kind is Kind.TOKEN:
            return KeyMade(key=secret.view, words=secret.words, address=address, squares=[])
        where = way_in(address, secret.words)
        return KeyMade(key=secret.view, words=spoken_code(secret.words), address=where, squares=square(where))

    return api


def _from(request: Request) -> str:
    return "" if request.client is None else request.client.host
