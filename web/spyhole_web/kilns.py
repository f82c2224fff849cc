"""The way to the pages of other kilns of this machine."""

from collections.abc import Callable

from fastapi import APIRouter

from spyhole.services.others import OtherKiln

OTHERS = [{"kiln": "Raku", "port": 8421, "address": ""}]


def kiln_routes(others: Callable[[], tuple[OtherKiln, ...]]) -> APIRouter:
    """For every kiln; most are alone."""
    api = APIRouter(tags=["studio"])

    @api.get("/api/kilns", responses={200: {"content": {"application/json": {"example": OTHERS}}}})
    def kilns() -> tuple[OtherKiln, ...]:
        """Other kilns that this machine watches and whose pages answer. No address: this page's own, at that port."""
        return others()

    return api
