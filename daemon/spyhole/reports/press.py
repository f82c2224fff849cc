"""Sets a report: as pages, as their picture, or as tables. What draws is loaded only here."""

from dataclasses import replace

from spyhole.core.report.report import Report
from spyhole.core.report.sentences import short_day
from spyhole.core.words import Manner
from spyhole.reports.tables import csv_of, json_of
from spyhole.services.reporting import Form, Paper


def press(report: Report, form: Form, manner: Manner, paper: Paper) -> bytes:
    """The report in this form."""
    if form is Form.CSV:
        return csv_of(report, manner)
    if form is Form.JSON:
        return json_of(report, manner)
    document = pdf_of(report, replace(manner, typeset=True), paper)
    if form is Form.PDF:
        return document
    from spyhole.reports.picture import png_of

    return png_of(document)


def pdf_of(report: Report, manner: Manner, paper: Paper) -> bytes:
    """A page for the board, then those for the technician."""
    from spyhole.reports import board, technician
    from spyhole.reports.paper import Pen

    story = report.story
    pen = Pen(paper, f"{story.kiln.name}, {short_day(story.started_utc_ms, manner)}, cone {story.plan.cone}")
    board.draw(pen, report, manner)
    pen.turn_page()
    technician.draw(pen, report, manner)
    pen.turn_page()
    return pen.done()
