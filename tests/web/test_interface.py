"""The interface, asked over the wire of the real daemon."""

import asyncio
import re
import socket
import time
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any, cast
from zoneinfo import ZoneInfo

import httpx
import pytest
from pydantic import TypeAdapter

from spyhole.app.build import build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.core.words import Manner
from spyhole.services.desk import Curve, Desk, Done
from spyhole.services.snapshot import Snapshot
from spyhole_hardware.emulated.puffin import TONIGHT
from spyhole_web import build_page, examples
from spyhole_web.shapes import KilnBook

PROBLEM = "application/problem+json"
WEB = Path(__file__).parents[2] / "web"


def test_now_is_all_of_now(daemon) -> None:
    seen = TypeAdapter(Snapshot).validate_python(daemon.now())
    assert seen.kiln == "Puffin"
    assert [ring.name for ring in seen.rings] == ["bottom", "middle", "top"]
    assert [cone.role for cone in seen.cones] == ["guide", "firing", "guard"]
    assert seen.sentence.endswith(".")


def test_a_ring_has_a_number_or_a_fault_never_neither(daemon) -> None:
    for ring in TypeAdapter(Snapshot).validate_python(daemon.now()).rings:
        assert (ring.celsius is None) == (ring.fault is not None)


def test_the_curve_is_thinned_and_even(daemon) -> None:
    curve = TypeAdapter(Curve).validate_python(daemon.get("/api/curve?points=200").json())
    assert 50 < len(curve.utc_ms) <= 500
    assert sorted(curve.utc_ms) == curve.utc_ms
    assert {len(column) for column in (*curve.rings.values(), curve.ceiling)} == {len(curve.utc_ms)}


def test_every_firing_of_the_kiln_book_has_its_curve(daemon) -> None:
    book = KilnBook.model_validate(daemon.get("/api/firings").json())
    assert len(book.firings) == book.total == 2
    page = KilnBook.model_validate(daemon.get(f"/api/firings?newest=1&before={book.firings[0].id}").json())
    assert (page.firings, page.total) == (book.firings[1:], 2)
    for firing in book.firings:
        assert daemon.get(f"/api/curve?firing={firing.id}").json()["firing"] == firing.id


def test_an_entry_is_taken_shown_and_taken_back(daemon) -> None:
    done = daemon.post("/api/entries", {"kind": "note", "value": "Peeked: guide upright", "who": "Mina"}).json()
    assert done["sequence"] > 0
    shown = [entry for entry in daemon.now()["entries"] if entry["sequence"] == done["sequence"]]
    assert [(entry["who"], entry["undone"]) for entry in shown] == [("Mina", False)]
    assert httpx.delete(f"{daemon.url}/api/entries/{done['sequence']}?who=Mina", timeout=60).status_code == 200
    shown = [entry for entry in daemon.now()["entries"] if entry["sequence"] == done["sequence"]]
    assert [entry["undone"] for entry in shown] == [True], "both stay in the record"


@pytest.mark.parametrize(
    ("method", "path", "body", "status", "field"),
    [
        ("GET", "/nowhere", None, 404, None),
        ("GET", "/static/../guard.py", None, 404, None),
        ("GET", "/api/curve?firing=999999", None, 404, None),
        ("PUT", "/api/now", {}, 405, None),
        ("GET", "/api/curve?points=hunter2", None, 422, "query points"),
        ("POST", "/api/entries", {"kind": "hunter2"}, 422, "kind"),
        ("POST", "/api/entries", {"kind": "note", "hunter2": "hunter2"}, 422, "body"),
        ("POST", "/api/entries", ["hunter2"], 422, "body"),
        ("POST", "/api/entries", {"kind": "note", "value": "x", "who": "hunter2\x07"}, 422, "who"),
        ("POST", "/api/entries", {"kind": "timer", "value": "soon"}, 422, None),
        ("POST", "/api/entries", {"kind": "switch", "subject": "attic", "value": "high"}, 422, None),
        ("POST", "/api/alarms/a999/acknowledgement", {"who": "Mina"}, 422, "episode"),
        ("POST", "/api/alarms/a999/reset", {"who": "Mina"}, 422, "episode"),
        ("DELETE", "/api/entries/999999999", None, 422, "sequence"),
        ("POST", "/api/rehearsal/speed", {"speed": -1}, 422, "speed"),
        ("POST", "/api/rehearsal/trouble", {"name": "ghosts"}, 422, "trouble"),
        ("POST", "/api/rehearsal/switch", {"ring": "top", "setting": "hunter2"}, 422, "setting"),
    ],
)
def test_every_error_is_a_problem_that_names_the_field(daemon, method, path, body, status, field) -> None:
    answer = httpx.request(method, daemon.url + path, json=body, timeout=60)
    assert (answer.status_code, answer.headers["content-type"]) == (status, PROBLEM)
    problem = answer.json()
    assert problem["status"] == status
    assert problem["detail"].endswith(".")
    assert field is None or field in [each["field"] for each in problem["fields"]]
    assert "hunter2" not in answer.text, "what was sent is never repeated"


def test_a_body_that_is_no_json_is_a_problem_too(daemon) -> None:
    headers = {"content-type": "application/json"}
    answer = httpx.post(f"{daemon.url}/api/entries", content=b'{"hunter2', headers=headers, timeout=60)
    assert (answer.status_code, answer.headers["content-type"]) == (422, PROBLEM)
    assert "hunter2" not in answer.text


def test_a_fault_of_the_page_is_a_problem_and_tells_nothing_of_itself() -> None:
    page = build_page(cast(Desk, object()))  # a desk that cannot answer

    async def ask() -> httpx.Response:
        transport = httpx.ASGITransport(page, raise_app_exceptions=False)
        async with httpx.AsyncClient(transport=transport, base_url="http://localhost") as client:
            return await client.get("/api/now")

    with ThreadPoolExecutor() as elsewhere:  # a browser's loop may be running in this thread
        answer = elsewhere.submit(asyncio.run, ask()).result(60)
    assert (answer.status_code, answer.headers["content-type"]) == (500, PROBLEM)
    assert "object" not in answer.text
    assert "The watch goes on without it" in answer.json()["detail"]


def test_health_is_of_the_watch_not_of_the_probes(own_daemon) -> None:
    own_daemon.post("/api/rehearsal/trouble", {"name": "probe-open"})
    own_daemon.until(lambda: any(ring["fault"] for ring in own_daemon.now()["rings"]))
    answer = own_daemon.get("/healthz")
    assert (answer.status_code, answer.json()["kiln"]) == (200, "Puffin")


def _health(address: str) -> httpx.Response | None:
    """None while the page, which comes up beside the watch, is not there yet."""
    try:
        return httpx.get(f"{address}/healthz", timeout=60)
    except httpx.TransportError:
        return None


def test_a_watch_that_takes_no_readings_is_not_healthy(tmp_path) -> None:
    """The whole daemon, built, with a sampler that is never started: after five seconds the page says so."""
    rehearsal = rehearsal_of(TONIGHT, Notes(), start_utc_ms=1_951_155_600_000)
    studio = studio_of(TONIGHT, Manner(ZoneInfo("Europe/London")), 1.0)
    still = build(studio, world_around(rehearsal), tmp_path, port=0, notifier=Notifier())
    try:
        until = time.monotonic() + 240
        while (answer := _health(still.address)) is None or answer.status_code == 200:
            assert time.monotonic() < until
            time.sleep(0.2)
        assert (answer.status_code, answer.headers["content-type"]) == (503, PROBLEM)
        assert "go to the kiln" in answer.json()["detail"]
    finally:
        still.lifecycle.stop()


def test_the_page_answers_only_to_its_own_name(daemon) -> None:
    """DNS rebinding: a foreign name that points here must get nothing."""
    for host, status in (("localhost", 200), ("127.0.0.1:1", 200), ("[::1]:8420", 200)):
        assert httpx.get(f"{daemon.url}/api/now", headers={"host": host}, timeout=60).status_code == status
    for host in ("kiln.example", "localhost.kiln.example:8420", "[::2]"):
        answer = httpx.get(f"{daemon.url}/api/now", headers={"host": host}, timeout=60)
        assert (answer.status_code, answer.headers["content-type"]) == (400, PROBLEM)
        assert "rings" not in answer.text


@pytest.mark.parametrize("origin", ["http://kiln.example", "null", "http://localhost:1"])
def test_a_write_from_another_page_changes_nothing(daemon, origin) -> None:
    answer = httpx.post(
        f"{daemon.url}/api/entries", json={"kind": "note", "value": "from afar"}, headers={"origin": origin}, timeout=60
    )
    assert (answer.status_code, answer.headers["content-type"]) == (403, PROBLEM)
    said = [entry["words"] for entry in daemon.now()["entries"]]  # among others': somebody fires the emulated kiln
    assert said
    assert not any("from afar" in words for words in said)


def test_a_body_too_large_is_refused_whether_it_says_so_or_not(daemon) -> None:
    large = b'{"kind": "note", "value": "' + b"x" * 100_000 + b'"}'
    headers = {"content-type": "application/json"}
    assert httpx.post(f"{daemon.url}/api/entries", content=large, headers=headers, timeout=60).status_code == 413
    unsaid = httpx.post(f"{daemon.url}/api/entries", content=iter([large]), headers=headers, timeout=60)
    assert unsaid.status_code >= 400


def test_what_a_browser_may_do_is_said_with_every_answer(daemon) -> None:
    for path in ("/", "/api/now", "/static/page.js", "/nowhere"):
        headers = daemon.get(path).headers
        assert "default-src 'self'" in headers["content-security-policy"]
        assert "frame-ancestors 'none'" in headers["content-security-policy"]
        assert headers["x-content-type-options"] == "nosniff"
    assert daemon.get("/api/now").headers["cache-control"] == "no-store"


def test_the_page_is_kept_but_asked_about_each_time(daemon) -> None:
    first = daemon.get("/static/page.js")
    assert first.headers["cache-control"] == "no-cache"
    again = httpx.get(f"{daemon.url}/static/page.js", headers={"if-none-match": first.headers["etag"]}, timeout=60)
    assert (again.status_code, again.content) == (304, b"")


def test_there_is_no_page_from_somebody_elses_network(daemon) -> None:
    assert daemon.get("/docs").status_code == 404
    assert daemon.get("/redoc").status_code == 404
    for file in (WEB / "spyhole_web" / "static").glob("*.*"):
        foreign = re.findall(r"""(?:src|href|from|import)\s*[=(]?\s*["'](?:https?:)?//""", file.read_text())
        assert not foreign, file.name


# The stream


def _events(daemon, count: int) -> list[int]:
    """The sequences of so many snapshots as they came."""
    came: list[int] = []
    with httpx.stream("GET", f"{daemon.url}/api/live", timeout=60) as answer:
        assert answer.headers["content-type"].startswith("text/event-stream")
        assert answer.headers["cache-control"] == "no-store"
        for line in answer.iter_lines():
            if line.startswith("data: "):
                came.append(TypeAdapter(Snapshot).validate_json(line[6:]).sequence)
            if len(came) == count:
                break
    return came


def test_the_stream_brings_the_latest_a_few_times_a_second(daemon) -> None:
    """4 kiln seconds a second at 1 s sampling are four ticks a second; at 60 there are many more."""
    daemon.post("/api/rehearsal/speed", {"speed": 60})
    began = time.monotonic()
    came = _events(daemon, 12)
    took = time.monotonic() - began
    daemon.post("/api/rehearsal/speed", {"speed": 4})
    assert came == sorted(set(came)), "forward, and none twice"
    assert len(came) <= 3 + 4 * took, "each tick would be sixty a second"


def test_fault_15_pages_that_never_read_hold_nobody_up(daemon) -> None:
    """What they cost in memory is measured in the booted appliance."""
    deaf: list[socket.socket] = []
    try:
        for _ in range(20):
            connection = socket.create_connection(("localhost", daemon.port))
            connection.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            connection.sendall(f"GET /api/live HTTP/1.1\r\nhost: localhost:{daemon.port}\r\n\r\n".encode())
            deaf.append(connection)
        assert len(_events(daemon, 4)) == 4
        assert daemon.get("/healthz").status_code == 200
    finally:
        for connection in deaf:
            connection.close()


def test_an_open_stream_ends_when_the_daemon_stops(own_daemon) -> None:
    with httpx.stream("GET", f"{own_daemon.url}/api/live", timeout=60) as answer:
        lines = answer.iter_lines()
        assert next(lines).startswith("retry:")
        took = own_daemon.end()
        for _ in lines:  # ends by itself, without an error
            pass
    assert took < 120, "of a stream that would go on for ever"


# Its description


def test_examples_are_what_they_are_examples_of() -> None:
    TypeAdapter(Snapshot).validate_python(examples.NOW)
    TypeAdapter(Curve).validate_python(examples.CURVE)
    TypeAdapter(Done).validate_python(examples.DONE)
    KilnBook.model_validate(examples.BOOK)


def test_every_route_has_its_sentence_and_its_problems(daemon) -> None:
    description = daemon.get("/openapi.json").json()
    for path, methods in description["paths"].items():
        for method, route in methods.items():
            assert route.get("description"), f"{method} {path}"
            assert route["responses"]["422"]["content"].keys() == {PROBLEM}, f"{method} {path}"


def test_the_page_reads_what_the_interface_answers(daemon) -> None:
    """The names in the page's types are the names in the description."""
    schemas: dict[str, Any] = daemon.get("/openapi.json").json()["components"]["schemas"]
    text = (WEB / "types" / "shapes.d.ts").read_text()
    interfaces = dict(re.findall(r"export interface (\w+) \{(.*?)\}\n", text, re.DOTALL))
    assert {"Snapshot", "RingView", "Curve", "FiringSummary", "Done"} <= interfaces.keys()
    for name, body in interfaces.items():
        read = set(re.findall(r"(\w+)\??: ", body))
        if name == "Problem":
            read -= {"field", "problem"}
        offered = set(schemas[name]["properties"])
        assert read <= offered, f"{name}: the page reads {read - offered}"
        assert name == "Problem" or read == offered, f"{name}: the page leaves out {offered - read}"
