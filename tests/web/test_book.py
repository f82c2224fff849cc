"""The kiln book and the studio: over the interface, and once each in a real browser."""

import re
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import expect
from pydantic import TypeAdapter

from spyhole.services.backups import BackupsView
from spyhole.services.book import BookPage, Opened, Overlay
from spyhole.services.care import CareView
from spyhole.services.office import PersonView
from spyhole.services.using import UseView
from spyhole.services.what_if import WhatIfView
from spyhole_web.book import OPENED, OVERLAY, PAGE, WHAT_IF
from spyhole_web.care import CARE, USE
from spyhole_web.people import PEOPLE
from spyhole_web.studio import BACKUPS, STUDIO, StudioView

SLOW_MS = 120_000
"""What has to be worked out first, on a machine that has other things to do."""

TYPES = Path(__file__).parents[2] / "web" / "types"


def test_examples_are_what_they_are_examples_of() -> None:
    for shape, example in (
        (BookPage, PAGE),
        (Opened, OPENED),
        (Overlay, OVERLAY),
        (CareView, CARE),
        (UseView, USE),
        (WhatIfView, WHAT_IF),
        (StudioView, STUDIO),
        (BackupsView, BACKUPS),
        (tuple[PersonView, ...], PEOPLE),
    ):
        TypeAdapter(shape).validate_python(example)


@pytest.mark.parametrize("file", ["book.d.ts", "care.d.ts", "studio.d.ts"])
def test_the_views_read_what_the_interface_answers(daemon, file) -> None:
    schemas = daemon.get("/openapi.json").json()["components"]["schemas"]
    interfaces = dict(re.findall(r"export interface (\w+) \{(.*?)\}\n", (TYPES / file).read_text(), re.DOTALL))
    assert interfaces
    for name, body in interfaces.items():
        assert set(re.findall(r"(\w+)\??: ", body)) == set(schemas[name]["properties"]), name


def test_the_book_is_leafed_through_searched_and_opened(daemon) -> None:
    page = daemon.get("/api/book?newest=1").json()
    assert (len(page["lines"]), page["found"], page["total"]) == (1, 2, 2)
    tonight, earlier = (
        page["lines"][0],
        daemon.get(f"/api/book?before={page['lines'][0]['firing']['id']}").json()["lines"][0],
    )
    assert (tonight["firing"]["ended_utc_ms"], earlier["firing"]["ended_utc_ms"] is None) == (None, False)
    assert 40 <= len(earlier["sketch"]["celsius"]) <= 60
    assert max(earlier["sketch"]["celsius"]) == pytest.approx(earlier["firing"]["peak_celsius"], abs=60)
    assert [each["firing"]["id"] for each in daemon.get("/api/book?words=no+alarms+DOWN").json()["lines"]] == [
        earlier["firing"]["id"]
    ]
    assert daemon.get("/api/book?words=unloaded").json()["found"] == 1, "what the keeper noted"
    assert daemon.get("/api/book?words=porcelain").json()["found"] == 0
    opened = daemon.get(f"/api/book/{earlier['firing']['id']}").json()
    assert [each["stage"] for each in opened["stages"]] == ["candling", "low", "medium", "high", "cooling"]
    assert sum(each["hours"] for each in opened["stages"][:-1]) == pytest.approx(
        (earlier["firing"]["tripped_utc_ms"] - earlier["firing"]["started_utc_ms"]) / 3_600_000, abs=0.1
    )
    assert "Lit, for cone 05" in [each["words"] for each in opened["marks"]]


def test_firings_over_one_another_are_of_one_length_and_differ_from_the_first(daemon) -> None:
    ids = [each["firing"]["id"] for each in daemon.get("/api/book").json()["lines"]]
    for by in ("clock", "stage"):
        query = f"/api/book/overlay?firing={ids[1]}&firing={ids[0]}&by={by}"
        laid = TypeAdapter(Overlay).validate_python(daemon.get(query).json())
        assert {len(column) for each in laid.firings for column in (each.celsius, each.against_first)} == {
            len(laid.hours)
        }
        assert {apart for apart in laid.firings[0].against_first if apart is not None} == {0.0}
        assert laid.ring == "middle"
    for wrong, status in (
        ("firing=1", 422),
        (f"firing={ids[0]}&firing=999999", 404),
        (f"firing={ids[0]}&firing={ids[0]}", 422),
    ):
        assert daemon.get(f"/api/book/overlay?{wrong}").status_code == status
    assert (
        daemon.get(f"/api/book/overlay?firing={ids[0]}&firing={ids[1]}&ring=attic").json()["fields"][0]["field"]
        == "ring"
    )


def test_people_are_changed_with_the_version_that_was_seen_and_no_address_comes_back(own_daemon) -> None:
    people = f"{own_daemon.url}/api/people"
    assert httpx.post(people, json={"name": "Ruth"}, timeout=60).json() == {"stored": True}
    seen = httpx.get(people, timeout=60).headers["etag"]
    secret = "json://localhost:9/a-secret-token"
    assert (
        httpx.put(
            f"{people}/Ruth/channels/phone", json={"address": secret}, headers={"if-match": seen}, timeout=60
        ).status_code
        == 200
    )
    late = httpx.put(
        f"{people}/Ruth/quiet", json={"quiet_from": 1320, "quiet_to": 420}, headers={"if-match": seen}, timeout=60
    )
    assert (late.status_code, late.headers["content-type"]) == (412, "application/problem+json")
    assert (
        httpx.put(f"{people}/Ruth/quiet", json={"quiet_from": 1320}, timeout=60).json()["fields"][0]["field"]
        == "quiet_to"
    )
    assert httpx.put(f"{people}/Ruth/role", json={"role": "helper"}, timeout=60).status_code == 200
    wrong = httpx.put(f"{people}/Ruth/channels/post", json={"address": "a-secret-token"}, timeout=60)
    assert (wrong.status_code, wrong.json()["fields"][0]["field"]) == (422, "address")
    listed = httpx.get(people, timeout=60)
    assert [(one["name"], one["role"], len(one["channels"])) for one in listed.json()] == [("Ruth", "helper", 1)]
    assert "secret" not in listed.text + wrong.text
    assert httpx.delete(f"{people}/Ruth", headers={"if-match": listed.headers["etag"]}, timeout=60).status_code == 200


def test_a_copy_of_the_record_is_made_from_the_page(own_daemon) -> None:
    assert own_daemon.get("/api/backups").json()["newest"] is None
    httpx.post(f"{own_daemon.url}/api/backups", timeout=60)
    own_daemon.until(lambda: own_daemon.get("/api/backups").json()["newest"] is not None)
    assert own_daemon.get("/api/backups").json()["newest"]["size_bytes"] > 10_000


def test_two_firings_are_chosen_and_laid_over_one_another(daemon, looker, axe) -> None:
    daemon.until(lambda: daemon.now()["firing"] is not None)  # its record is read
    page = looker.look(daemon)
    page.goto(f"{daemon.url}/book")
    expect(page.locator(".leaves li")).to_have_count(2)
    assert axe(page) == []
    for box in page.locator(".pick input").all():
        box.check()
    page.get_by_role("link", name="Lay them over one another").click()
    expect(page.locator(".chart .trace")).to_have_count(3)
    page.get_by_role("button", name="Stage upon stage").click()
    expect(page.locator("#over")).to_contain_text("Each stage is stretched")
    page.locator(".chart").focus()
    page.keyboard.press("Home")
    page.keyboard.press("ArrowRight")
    expect(page.locator("#over .readout")).to_have_text(re.compile(r"after lighting: first \d+, second \d+ \("))
    assert axe(page) == []
    page.go_back()
    page.locator(".leaves a").last.click()
    expect(page.locator("#curve canvas")).to_have_count(1)
    expect(page.locator(".papers a")).to_have_count(4)
    expect(page.locator(".sheet table")).to_contain_text("Heat work", timeout=SLOW_MS)
    page.get_by_role("button", name="Half the load").click()
    expect(page.locator(".if .line")).to_contain_text("Heating would end after", timeout=SLOW_MS)
    expect(page.locator(".if .chart .trace")).to_have_count(3)
    expect(page.locator("[aria-busy=true]")).to_have_count(0)
    assert axe(page) == []
    assert looker.complaints == []


def test_cones_are_read_by_their_likeness_and_what_was_done_is_written_down(daemon, looker, axe) -> None:
    daemon.until(lambda: daemon.now()["firing"] is not None)
    page = looker.look(daemon)
    page.goto(f"{daemon.url}/care")
    expect(page.locator(".shelf button")).to_have_count(7, timeout=SLOW_MS)
    expect(page.locator("#used tbody tr")).not_to_have_count(0, timeout=SLOW_MS)
    assert axe(page) == []
    page.get_by_role("button", name="upright").click()
    expect(page.locator("#shelves .line")).to_contain_text("Written down: at the", timeout=SLOW_MS)
    expect(page.locator("#shelves .said")).to_contain_text("bent 8 degrees")
    page.select_option("#what", "stiff switch")
    page.get_by_role("button", name="Write down").click()
    expect(page.locator("#mended .said li")).to_have_count(1, timeout=SLOW_MS)
    expect(page.locator("#mended .said li")).to_contain_text("stiff switch")
    assert looker.complaints == []


def test_a_reader_chooses_unit_and_zone_for_every_view(daemon, looker, axe) -> None:
    page = looker.look(daemon)
    page.goto(f"{daemon.url}/studio")
    expect(page.locator("#described")).to_contain_text("1290 °C")
    assert axe(page) == []
    page.select_option("#unit", "degF")
    expect(page.locator("#described")).to_contain_text("2354 °F")
    page.goto(f"{daemon.url}/")
    page.wait_for_selector(".band")
    heat = int(page.locator(".band .heat").first.inner_text())
    assert heat > max(ring["celsius"] for ring in daemon.now()["rings"]) + 200
    page.goto(f"{daemon.url}/book")
    expect(page.locator(".leaves .facts").last).to_contain_text("°F")
    assert looker.complaints == []
