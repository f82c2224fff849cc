"""Puts the page together: one FastAPI application that knows the desk and nothing behind it."""

from collections.abc import AsyncIterator, Callable, Iterable
from contextlib import asynccontextmanager
from importlib.metadata import PackageNotFoundError, version

from fastapi import APIRouter, FastAPI
from starlette.middleware.gzip import GZipMiddleware

from spyhole.services.access import Access
from spyhole.services.desk import Desk
from spyhole_web import problems, static
from spyhole_web.guard import Guard, for_everybody
from spyhole_web.handbook.routes import handbook_routes
from spyhole_web.live import Live
from spyhole_web.photos import photo_routes
from spyhole_web.routes import routes
from spyhole_web.watch_routes import watch_routes

DESCRIPTION = """\
What a manual electric pottery kiln is doing, and what the people beside it have said.
Temperatures are degC, climbs degC per hour, instants milliseconds of UTC (`utc_ms`).
A temperature that is not known is null, and comes with a fault in a sentence.

spyhole is an aid. It is not a safety device: messages may be late, lost or wrong.
"""


def build_page(
    desk: Desk,
    *,
    allowed_hosts: Iterable[str] = (),
    numbers: bool = False,
    access: Access | None = None,
    cookie: str = "spyhole",
    emulated: bool = False,
    more: Iterable[APIRouter] = (),
) -> FastAPI:
    """The page and its interface.

    desk: all it knows of the daemon.
    allowed_hosts: names it answers to besides localhost, 127.0.0.1 and [::1], without port.
    numbers, access, cookie: as the guard takes them.
    emulated: whether there are views of an emulated kiln. more: routes that not every kiln has.

    Before stopping the server call `end_streams(page)`: uvicorn waits for open streams.
    """
    live = Live(desk)

    @asynccontextmanager
    async def lifespan(_: FastAPI) -> AsyncIterator[None]:
        live.open()
        try:
            yield
        finally:
            live.end()

    page = FastAPI(
        title="spyhole",
        description=DESCRIPTION,
        version=_version(),
        lifespan=lifespan,
        docs_url=None,  # its page comes from somebody else's network; /openapi.json stays
        redoc_url=None,
        responses=problems.DOCUMENTED,
        redirect_slashes=False,
    )
    page.state.live = live
    page.include_router(routes(desk, live))
    page.include_router(watch_routes(desk))
    page.include_router(photo_routes(desk))
    for routes_there in more:
        page.include_router(routes_there)
    page.include_router(handbook_routes())
    page.include_router(static.routes(emulated=emulated))
    problems.install(page)
    problems.describe(page, for_everybody)
    page.add_middleware(GZipMiddleware, minimum_size=1000, compresslevel=5)
    page.add_middleware(Guard, allowed_hosts=tuple(allowed_hosts), numbers=numbers, access=access, cookie=cookie)
    return page


def end_streams(page: FastAPI) -> None:
    """End every open stream, from any thread, so that the server can stop at once."""
    end: Callable[[], None] = page.state.live.end
    end()


def _version() -> str:
    try:
        return version("spyhole")
    except PackageNotFoundError:
        return "0"
