"""What the page is made of. `build` imports this last: it is a third of a start, and readings do not wait for it."""

from spyhole_web.book import book_routes
from spyhole_web.care import care_routes
from spyhole_web.door import door_routes
from spyhole_web.exercises import exercise_routes
from spyhole_web.kilns import kiln_routes
from spyhole_web.links import link_routes
from spyhole_web.page import build_page, end_streams
from spyhole_web.people import people_routes
from spyhole_web.plans import plan_routes
from spyhole_web.rehearsal import rehearsal_routes
from spyhole_web.reports import report_routes
from spyhole_web.room import room_routes
from spyhole_web.studio import studio_routes

__all__ = [
    "book_routes",
    "build_page",
    "care_routes",
    "door_routes",
    "end_streams",
    "exercise_routes",
    "kiln_routes",
    "link_routes",
    "people_routes",
    "plan_routes",
    "rehearsal_routes",
    "report_routes",
    "room_routes",
    "studio_routes",
]
