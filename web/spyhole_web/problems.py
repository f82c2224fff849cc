"""Every error as RFC 9457 problem details, in a sentence, and without repeating what was sent."""

from collections.abc import Callable, Mapping, Sequence
from http import HTTPStatus
from typing import Any

from fastapi import FastAPI, Request
from fastapi.exceptions import RequestValidationError
from fastapi.responses import JSONResponse
from pydantic import BaseModel, Field
from starlette.exceptions import HTTPException
from starlette.routing import compile_path

from spyhole.core.refusal import Refusal
from spyhole.services.access import TooManyTries

MEDIA_TYPE = "application/problem+json"


class FieldProblem(BaseModel):
    """One field that cannot be taken."""

    field: str = Field(description="the field, as a path: who, query points", examples=["kind"])
    problem: str = Field(description="what is allowed there", examples=["Input should be 'switch' or 'note'"])


class Problem(BaseModel):
    """Problem details (RFC 9457). type is about:blank: the status says the kind, detail says what happened."""

    type: str = Field(default="about:blank", examples=["about:blank"])
    title: str = Field(examples=["Unprocessable Content"])
    status: int = Field(examples=[422])
    detail: str = Field(examples=["No ring is called attic; the rings are bottom, middle, top."])
    fields: list[FieldProblem] = Field(default_factory=list)


def _documented(words: str) -> dict[str, object]:
    return {"description": words, "content": {MEDIA_TYPE: {"schema": {"$ref": "#/components/schemas/Problem"}}}}


DOCUMENTED: dict[int | str, dict[str, Any]] = {
    400: _documented("The address is not one this page answers to, or the request cannot be read."),
    401: _documented("Nobody is let in by this: come in by the door, or send a token."),
    403: _documented("A guest looks, and changes nothing; or a page of somebody else asked."),
    422: _documented("Cannot be taken; nothing was changed. The sentence says what is allowed."),
    500: _documented("A fault of the page. The watch goes on without it."),
}

# What a person can do about it, by status; other statuses have their own phrase only.
_SENTENCES: Mapping[int, str] = {
    404: "There is nothing at this address. Go back to the first page.",
    405: "This address does not take that kind of request.",
    500: "The page has stumbled over this. The watch goes on without it; the log of the machine says more.",
}


def problem(status: int, detail: str, fields: Sequence[FieldProblem] = ()) -> JSONResponse:
    """An answer that says what went wrong."""
    body = Problem(title=HTTPStatus(status).phrase, status=status, detail=detail, fields=list(fields))
    return JSONResponse(body.model_dump(), status_code=status, media_type=MEDIA_TYPE)


def install(page: FastAPI) -> None:
    """Answer every error of this application as a problem."""

    @page.exception_handler(Refusal)
    def refused(_: Request, refusal: Refusal) -> JSONResponse:
        # The field stands beside the sentence, so that the sentence can be shown where the field is.
        sentence = f"{refusal.problem}; {refusal.allowed}" if refusal.allowed else refusal.problem
        detail = sentence[:1].upper() + sentence[1:] + ("" if sentence.endswith(".") else ".")
        return problem(422, detail, [FieldProblem(field=refusal.where, problem=refusal.allowed or refusal.problem)])

    @page.exception_handler(TooManyTries)
    def too_many(_: Request, __: TooManyTries) -> JSONResponse:
        answer = problem(429, "Tried too often. Wait a minute, then try again.")
        answer.headers["retry-after"] = "60"
        return answer

    @page.exception_handler(RequestValidationError)
    def not_valid(_: Request, error: RequestValidationError) -> JSONResponse:
        # Only the place and pydantic's sentence about what is allowed: never the input, which may be a secret.
        fields = [FieldProblem(field=_place(each["loc"], each["type"]), problem=each["msg"]) for each in error.errors()]
        names = ", ".join(dict.fromkeys(each.field for each in fields))
        return problem(422, f"Nothing was changed: {names} cannot be taken.", fields)

    @page.exception_handler(HTTPException)
    def of_http(request: Request, error: HTTPException) -> JSONResponse:
        phrase = HTTPStatus(error.status_code).phrase
        detail = error.detail if error.detail != phrase else _SENTENCES.get(error.status_code, phrase)
        answer = problem(error.status_code, detail)
        answer.headers.update(error.headers or {})
        if error.status_code == HTTPStatus.METHOD_NOT_ALLOWED:
            taken = _taken_there(page, request.url.path) or {answer.headers.get("allow", "GET")}
            answer.headers["allow"] = ", ".join(sorted(taken))
        return answer

    @page.exception_handler(Exception)
    def unforeseen(_: Request, __: Exception) -> JSONResponse:
        return problem(500, _SENTENCES[500])


def describe(page: FastAPI, for_everybody: Callable[[str], bool]) -> None:
    """Put into the interface's description the shape of a problem, where every route points to it, and who is let in.

    for_everybody: whether an address asks for no key.
    """
    keys = {"token": {"type": "http", "scheme": "bearer", "description": "Made by a keeper; a browser has a cookie."}}
    generate = page.openapi

    def openapi() -> dict[str, Any]:
        description = generate()
        schemas = description.setdefault("components", {}).setdefault("schemas", {})
        if "Problem" not in schemas:
            shape = Problem.model_json_schema(ref_template="#/components/schemas/{model}")
            schemas.update(shape.pop("$defs"), Problem=shape)
            description["components"]["securitySchemes"] = keys
            description["security"] = [{name: []} for name in keys]
            for path in (path for path in description["paths"] if for_everybody(path)):
                for operation in description["paths"][path].values():
                    operation["security"] = []
        return description

    page.openapi = openapi  # type: ignore[method-assign]  # the way FastAPI offers


def _taken_there(page: FastAPI, path: str) -> set[str]:
    """The methods of an address, of all its routes together: the one that answered knows its own only."""
    described: dict[str, dict[str, object]] = page.openapi()["paths"]
    forms = [path] if path in described else [form for form in described if compile_path(form)[0].match(path)]
    return {method.upper() for form in forms for method in described[form]}


def _place(location: Sequence[int | str], kind: str) -> str:
    """body.who -> who; query.points -> query points. A name nobody knows is input, and not repeated."""
    where, *rest = [str(part) for part in (location[:-1] if kind == "extra_forbidden" else location)]
    inner = ".".join(rest)
    if where == "body":
        return inner if inner and not inner.isdigit() else "body"
    return f"{where} {inner}".strip()
