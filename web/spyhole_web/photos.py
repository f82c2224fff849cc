"""Photographs of the cones: taken on a phone, kept in the record, never changed."""

from typing import Annotated

from fastapi import APIRouter, Body, HTTPException, Path, Query, Response

from spyhole.core.forms.jpeg import LARGEST_BYTES
from spyhole.services.desk import Desk, Done
from spyhole_web import examples
from spyhole_web.problems import DOCUMENTED
from spyhole_web.shapes import Who

FOR_EVER = "private, max-age=31536000, immutable"  # a name is of its content

Jpeg = Annotated[bytes, Body(media_type="image/jpeg", max_length=LARGEST_BYTES, description="one JPEG, at most 1 MiB")]
Name = Annotated[str, Path(pattern=r"^[0-9a-f]{32}$", description="as in the entry")]

_ANSWERS: examples.Responses = {
    200: {"description": "The photograph.", "content": {"image/jpeg": {}}},
    404: {**DOCUMENTED[500], "description": "There is no such photograph."},
}


def photo_routes(desk: Desk) -> APIRouter:
    """For every kiln that keeps a record."""
    api = APIRouter(tags=["kiln"])

    @api.post("/api/photos", responses=examples.answer(examples.DONE))
    def photograph(jpeg: Jpeg, who: Annotated[Who, Query()] = "") -> Done:
        """Keep a photograph of the cones, with an entry that shows it. Judged by its bytes."""
        return desk.photograph(jpeg, who)

    @api.get("/api/photos/{name}.jpg", response_class=Response, responses=_ANSWERS)
    def photo(name: Name) -> Response:
        """One photograph."""
        jpeg = desk.photo(name)
        if jpeg is None:
            raise HTTPException(404, "There is no photograph of this name.")
        return Response(jpeg, media_type="image/jpeg", headers={"cache-control": FOR_EVER})

    return api
