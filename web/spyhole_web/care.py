"""The kiln over the years: its elements, its probes, its shut-off, and what was done to them."""

from typing import Annotated

from fastapi import APIRouter, Query

from spyhole.services.care import CareBook, CareView
from spyhole.services.using import Use, UseView
from spyhole_web import examples

CARE: examples.Example = {
    "rings": ["bottom", "middle", "top"],
    "firings": 41,
    "elements": [
        {
            "ring": "top",
            "words": "The top ring may have lost 2 to 4 % so far. Its elements are due in about 70 firings, between 48 "
            "and 130 (near a tenth more resistance).",
            "weak": False,
            "new_utc_ms": 1_930_000_000_000,
            "firings": 2,
            "lost_low_percent": 2.1,
            "lost_high_percent": 4.2,
            "due_low": 48,
            "due_about": 70,
            "due_high": 130,
            "utc_ms": [1_930_400_000_000, 1_931_000_000_000],
            "strength_percent": [100.4, 99.1],
        }
    ],
    "together": "",
    "open": "",
    "probes": [
        {
            "ring": "top",
            "words": "By cones of one firing the top probe reads about 4 low, give or take 3.",
            "drifts": False,
            "offset_celsius": 4.1,
            "off_celsius": 3.2,
            "utc_ms": [1_931_000_000_000],
            "celsius": [4.6],
        }
    ],
    "shutoff": "By 3 trips the shut-off drops about 5 later than its cone's number, give or take 4.",
    "trips": [
        {
            "utc_ms": 1_931_000_000_000,
            "late_celsius": 6.2,
            "gap_millimetres": 4.8,
            "taught": True,
            "words": "About 6 later than its cone's number, gap 4.8 mm.",
        }
    ],
    "taught": "The last 3 good firings have taught how this kiln takes heat and how it cools. Two hours before, the "
    "cone was foretold to 22 min in the first of them and to 6 min in the last.",
    "lesson": "The next firing learns from the last one. If that was an odd one, say so.",
    "teaches": True,
    "marks": [{"utc_ms": 1_930_000_000_000, "ring": "top", "what": "new elements", "who": "Mina"}],
    "may": ["new elements", "new probe"],
}


USE: examples.Example = {
    "days": 92,
    "from_utc_ms": 1_930_000_000_000,
    "firings": 12,
    "currency": "EUR",
    "people": [{"who": "Mina", "firings": 12, "kwh": 610.4, "money": 164.81}],
    "measured_share": 0.0,
}


def care_routes(book: CareBook, use: Use) -> APIRouter:
    """For every kiln that keeps a record."""
    api = APIRouter(tags=["kiln book"])

    @api.get("/api/care", responses=examples.answer(CARE))
    def care() -> CareView:
        """What the elements lost, what cones say of the probes, and what was renewed, mended or found."""
        return book.view()

    @api.get("/api/use", responses=examples.answer(USE))
    def used(days: Annotated[int, Query(ge=1, le=3660, description="so many back from now")] = 92) -> UseView:
        """What each person's firings used and cost: at most two hundred firings are added up."""
        return use.view(days)

    return api
