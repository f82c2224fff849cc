"""The way in, on the whole daemon and in a real browser: nobody, guests, keepers, programs."""

import re
import subprocess
import sys
from pathlib import Path

import httpx
import pytest
from playwright.sync_api import expect

HTML = {"accept": "text/html"}


@pytest.fixture(scope="module")
def house(daemon):
    """A rehearsal that Ruth has come into, so that from now on everybody needs a key."""
    with httpx.Client(base_url=daemon.url, timeout=60) as ruth:
        assert daemon.get("/api/now").status_code == 200, "open until somebody came in"
        done = ruth.post("/api/door/code", json={"code": first_code(daemon), "name": "Ruth", "device": "phone"})
        assert done.json() == {"name": "Ruth", "role": "keeper", "set_up": True, "open": False}
        daemon.ruth = ruth
        yield daemon


def first_code(daemon) -> str:
    """The last one printed to its screen."""
    printed = (daemon.data.parent / f"{daemon.port}.log").read_text()
    return re.findall(r"/door#code=([0-9A-Z]{10})", printed)[-1]


def made(house, **asked) -> dict:
    return house.ruth.post("/api/keys", json=asked).json()


@pytest.fixture
def guest(house):
    with httpx.Client(base_url=house.url, timeout=60) as client:
        code = made(house, kind="class", label="Wednesdays", days=7)["words"]
        assert client.post("/api/door/code", json={"code": code}).json()["role"] == "guest"
        yield client


@pytest.mark.parametrize("path", ["/api/now", "/api/live", "/api/people", "/metrics", "/openapi.json", "/api/me"])
def test_nobody_sees_nothing_of_the_kiln(house, path: str) -> None:
    answer = house.get(path)
    assert answer.status_code == 401
    assert answer.headers["content-type"] == "application/problem+json"
    assert "Puffin" not in answer.text


@pytest.mark.parametrize("path", ["/door", "/static/door.js", "/handbook", "/handbook/safety", "/healthz"])
def test_door_and_handbook_are_for_everybody(house, path: str) -> None:
    assert house.get(path).status_code == 200


def test_a_browser_that_is_nobody_is_led_to_the_door(house) -> None:
    answer = httpx.get(f"{house.url}/", headers=HTML, timeout=60)
    assert (answer.status_code, answer.headers["location"]) == (303, "/door")


def test_what_a_device_keeps_is_out_of_reach_of_scripts_and_other_pages(house) -> None:
    with httpx.Client(base_url=house.url, timeout=60) as client:
        code = made(house, kind="code", person="Otto")["words"]
        cookie = client.post("/api/door/code", json={"code": code}).headers["set-cookie"].lower()
    assert "httponly" in cookie
    assert "samesite=strict" in cookie
    assert "; secure" not in cookie, "plain http could not send it back"


def test_a_guest_looks_and_changes_nothing(house, guest) -> None:
    assert guest.get("/api/now").status_code == 200
    refused = guest.post("/api/entries", json={"kind": "note", "value": "I was here"})
    assert (refused.status_code, refused.json()["title"]) == (403, "Forbidden")
    assert guest.get("/api/keys").status_code == 403
    assert guest.get("/api/people").status_code == 403
    assert guest.delete("/api/me").status_code == 200, "but may leave"
    assert guest.get("/api/now").status_code == 401


def test_a_keeper_acts_in_her_own_name_only(house) -> None:
    done = house.ruth.post("/api/entries", json={"kind": "note", "value": "Top shelf is empty", "who": "Otto"})
    assert done.status_code == 200
    by = {each["sequence"]: each["who"] for each in house.ruth.get("/api/now").json()["entries"]}
    assert by[done.json()["sequence"]] == "Ruth"
    taken = house.ruth.delete(f"/api/entries/{done.json()['sequence']}?who=Otto")
    assert taken.status_code == 200
    assert "Ruth" in [person["name"] for person in house.ruth.get("/api/people").json()]


def test_a_keeper_gives_the_watch_to_somebody_else_and_lays_it_down(house) -> None:
    for who in ("Ruth", "Wren", ""):
        assert house.ruth.post("/api/watch", json={"who": who, "note": "Medium since six"}).status_code == 200
        assert house.ruth.get("/api/now").json()["duty"]["holder"] == who


def test_a_program_looks_with_its_token_and_acts_where_it_may(house) -> None:
    looks = made(house, kind="token", label="board")["words"]
    acts = made(house, kind="token", label="bench", role="keeper")["words"]
    note = {"kind": "note", "value": "from the bench", "who": "Otto"}
    for token, status in ((looks, 403), (acts, 200), ("made-up", 401)):
        with httpx.Client(base_url=house.url, headers={"authorization": f"Bearer {token}"}, timeout=60) as program:
            assert program.post("/api/entries", json=note).status_code == status


def test_a_stream_ends_when_its_device_is_taken_back(house, guest) -> None:
    with guest.stream("GET", "/api/live", timeout=120) as stream:
        lines = stream.iter_lines()
        assert any(line.startswith("data:") for line in lines)
        newest = [key for key in house.ruth.get("/api/keys").json() if key["kind"] == "device"][-1]
        assert house.ruth.delete(f"/api/keys/{newest['id']}").status_code == 200
        for _ in lines:  # it ends by itself, within a ping
            pass
    assert guest.get("/api/now").status_code == 401


def test_who_is_removed_from_the_people_is_out_and_the_last_keeper_is_not_removed(house) -> None:
    with httpx.Client(base_url=house.url, timeout=60) as otto:
        code = made(house, kind="code", person="Otto")["words"]
        assert otto.post("/api/door/code", json={"code": code}).json()["name"] == "Otto"
        assert house.ruth.delete("/api/people/Otto").status_code == 200
        assert otto.get("/api/now").status_code == 401
    refused = house.ruth.delete("/api/people/Ruth")
    assert (refused.status_code, refused.json()["fields"][0]["field"]) == (422, "person")
    assert house.ruth.get("/api/now").status_code == 200


def test_the_only_way_in_that_a_keeper_has_is_not_taken_back(house) -> None:
    keepers = [key for key in house.ruth.get("/api/keys").json() if (key["kind"], key["person"]) == ("device", "Ruth")]
    assert len(keepers) == 1
    for key in house.ruth.get("/api/keys").json():
        if key["kind"] == "device" and key["person"] not in ("", "Ruth"):
            assert house.ruth.delete(f"/api/keys/{key['id']}").status_code == 200
    for path, field in ((f"/api/keys/{keepers[0]['id']}", "key"), ("/api/me", "device")):
        refused = house.ruth.delete(path)
        assert (refused.status_code, refused.json()["fields"][0]["field"]) == (422, field)
        assert refused.json()["detail"].startswith("This is the only way in that a keeper has; first let another")
    assert house.ruth.get("/api/now").status_code == 200
    assert house.get("/api/now").status_code == 401, "and the house is not open"


def test_a_wrong_code_is_refused_in_a_sentence_without_it(house) -> None:
    answer = house.post("/api/door/code", {"code": "AAAAA-AAAAA", "name": "Eve"})
    assert answer.status_code == 422
    assert "lets nobody in" in answer.json()["detail"]
    assert "AAAAA" not in answer.text


def test_tries_are_slowed_down_and_who_is_in_stays_in(house) -> None:
    tried = [
        house.post("/api/door/password", {"name": "Ruth", "password": f"guess {n}"}).status_code for n in range(12)
    ]
    assert tried[-1] == 429
    assert tried.count(422) <= 5
    assert house.ruth.get("/api/now").status_code == 200
    assert "guess" not in house.post("/api/door/password", {"name": "Ruth", "password": ["guess"]}).text


def test_from_the_square_code_to_the_kiln_and_a_class_let_in(another, looker, axe) -> None:
    """On a phone: the address of the code, one typed field, one tap; what lets others in; and back by a password."""
    kiln = another("--speed", "20")
    page = looker.look(kiln, path=f"/door#code={first_code(kiln)}", shows="form")
    expect(page.locator("#words")).to_contain_text("lets this device in")
    assert axe(page) == []
    assert page.evaluate("location.hash") == "", "the code stays in no history"
    page.get_by_label("Your name").fill("Ruth")
    page.get_by_role("button", name="Come in").first.click()
    page.wait_for_url(f"{kiln.url}/")
    expect(page.locator("#kiln")).to_contain_text("Puffin")
    page.goto(f"{kiln.url}/door")
    expect(page.locator("#words")).to_contain_text("You are Ruth, a keeper")
    page.get_by_role("button", name=re.compile("^Take back: a device, Ruth")).click()
    expect(page.get_by_text("This is the only way in that a keeper has")).to_be_visible()
    page.get_by_role("button", name="A class, for a week").click()
    expect(page.locator(".square svg")).to_be_visible()
    expect(page.locator("[aria-busy=true]")).to_have_count(0)
    assert axe(page) == []
    expect(page.locator("#keys li").filter(has_text="a class code")).to_be_visible()
    page.emulate_media(media="print")
    expect(page.get_by_text("Look in on Puffin")).to_be_visible()
    expect(page.get_by_text("Do not touch the kiln")).to_be_visible()
    expect(page.get_by_text("Shown this once")).to_be_hidden()
    page.emulate_media(media="screen")
    pupil = looker.look(kiln, path=f"/door#code={page.locator('.shown').inner_text()}", shows="form")
    pupil.get_by_role("button", name="Come in").first.click()
    expect(pupil.locator("body")).to_have_attribute("data-guest", "")
    expect(pupil.locator("#curve canvas")).to_have_count(1)  # so that what would be offered is there
    assert pupil.locator(":is(#next, #alarms, #entries, #duty, #log) button:visible").count() == 0, "a guest looks"
    page.get_by_text("A password, to come in by name").click()
    page.get_by_label("four words of your own").fill("stoke vent candle hob")
    page.get_by_role("button", name="Keep this password").click()
    expect(page.locator("#mine [role=status]")).to_contain_text("Kept")
    page.get_by_role("button", name="Sign this device out").click()
    expect(page.locator("#words")).to_contain_text("Scan the square code")
    page.get_by_text("I have a password").click()
    page.get_by_label("Name", exact=True).fill("Ruth")
    page.get_by_label("Password", exact=True).fill("stoke vent candle hob")
    page.locator("#in details").get_by_role("button", name="Come in").click()
    expect(page.locator("#kiln")).to_contain_text("Puffin")


def test_from_the_first_code_to_a_firing_takes_three_taps_and_a_name(cold_kiln, looker) -> None:
    """The goal is twelve taps at most, and one typed field."""
    settings = cold_kiln.words[cold_kiln.words.index("--config") + 1]
    spyhole = Path(sys.executable).parent / "spyhole"
    said = subprocess.run([spyhole, "access", "--config", settings, "code"], capture_output=True, text=True, check=True)
    code = re.search(r"/door#code=([0-9A-Z]{10})", said.stdout)
    assert code is not None
    page = looker.look(cold_kiln, path=f"/door#code={code[1]}", shows="form")
    page.get_by_label("Your name").fill("Ruth")
    page.get_by_role("button", name="Come in").first.click()
    page.locator("#next").get_by_role("button", name="Make ready and light it").click()
    page.get_by_role("button", name="All seen to. It is lit").click()
    expect(page.locator("#plan")).to_contain_text("candling")
    expect(page.locator("#entries")).to_contain_text("Ruth")
    assert cold_kiln.get("/api/now").status_code == 401, "the door is shut behind her"
