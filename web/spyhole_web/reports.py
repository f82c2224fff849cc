"""The report of a firing, as a page, a picture or a table."""

from typing import Annotated

from fastapi import APIRouter, HTTPException, Path, Query, Response

from spyhole.core.refusal import Refusal
from spyhole.services.reporting import Form, Paper, Reporting
from spyhole_web import examples
from spyhole_web.problems import DOCUMENTED
from spyhole_web.shapes import LARGEST

MEDIA_TYPES = {
    Form.PDF: "application/pdf",
    Form.PNG: "image/png",
    Form.CSV: "text/csv; charset=utf-8",
    Form.JSON: "application/json",
}
_ANSWERS: examples.Responses = {
    200: {
        "description": "The report, to be kept as a file.",
        "content": {kind.split(";", maxsplit=1)[0]: {} for kind in MEDIA_TYPES.values()},
    },
    404: {**DOCUMENTED[500], "description": "There is no such firing."},
}


def report_routes(reporting: Reporting) -> APIRouter:
    """For every kiln that keeps a record."""
    api = APIRouter(tags=["report"])

    @api.get("/api/firings/{firing}/report.{form}", response_class=Response, responses=_ANSWERS)
    def report(
        firing: Annotated[int, Path(ge=1, le=LARGEST, description="as in the kiln book")],
        form: Form,
        paper: Annotated[Paper, Query(description="what it is printed on")] = Paper.A4,
    ) -> Response:
        """One page for the board and one for a technician; or every figure of them as a table."""
        try:
            sheet = reporting.report(firing, form, paper)
        except Refusal as refusal:
            if refusal.where == "firing":
                raise HTTPException(404, "There is no such firing in the kiln book.") from None
            raise
        headers = {"Content-Disposition": f'attachment; filename="{sheet.name}"'}
        return Response(sheet.content, media_type=MEDIA_TYPES[form], headers=headers)

    return api
