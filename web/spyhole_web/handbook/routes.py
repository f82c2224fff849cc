"""The addresses of the handbook."""

import re
from html import escape
from typing import Any

from fastapi import APIRouter, HTTPException, Request
from starlette.responses import HTMLResponse, Response

from spyhole_web.handbook.narrow import tables
from spyhole_web.handbook.pages import CONTENTS, DRAWINGS, document, drawing

_QUOTED = re.compile(r"`([^`]+)`")


def handbook_routes() -> APIRouter:
    """GET /handbook and what it leads to."""
    api = APIRouter(include_in_schema=False)

    @api.get("/handbook")
    def contents() -> HTMLResponse:
        return HTMLResponse(document(None))

    @api.get("/handbook/{name}")
    def one(name: str, request: Request) -> Response:
        if name in DRAWINGS:
            return Response(drawing(name), media_type="image/svg+xml")
        if name not in CONTENTS:
            raise HTTPException(404)
        return HTMLResponse(document(name, addresses=_addresses(request.app.openapi()["paths"])))

    return api


def _addresses(paths: dict[str, dict[str, dict[str, Any]]]) -> str:
    """A table of what the running page answers to, from its own description."""
    rows = "".join(
        f"<tr><td><code>{method.upper()} {escape(path)}</code></td><td>{_sentence(what)}</td></tr>"
        for path, methods in sorted(paths.items())
        for method, what in methods.items()
    )
    return tables(f"<table><tr><th>address</th><th>what it does</th></tr>{rows}</table>")


def _sentence(operation: dict[str, Any]) -> str:
    words: str = operation.get("description") or operation.get("summary") or ""
    return _QUOTED.sub(r"<code>\1</code>", escape(" ".join(words.partition("\n\n")[0].split())))
