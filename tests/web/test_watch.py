"""What is put aside, who holds the watch and who is in reach: over the wire and on the page of the real daemon."""

import json
import re
from typing import Any

import httpx
import pytest
from playwright.sync_api import expect
from pydantic import TypeAdapter

from spyhole.services.snapshot import Snapshot
from spyhole_web import examples


def seen(daemon) -> Snapshot:
    return TypeAdapter(Snapshot).validate_python(daemon.now())


@pytest.fixture
def with_an_open_probe(own_daemon):
    """A daemon of this test alone, whose middle probe has broken and is told of."""
    own_daemon.post("/api/rehearsal/trouble", {"name": "probe-open"})
    own_daemon.until(lambda: any(alarm["tag"] == "probe-open" for alarm in own_daemon.now()["alarms"]))
    own_daemon.post("/api/rehearsal/speed", {"speed": 1})
    for alarm in own_daemon.now()["alarms"]:
        if alarm["tag"] != "probe-open":  # what an evening left behind
            own_daemon.post(f"/api/alarms/{alarm['episode']}/acknowledgement", {"who": "Mina"})
    return own_daemon


def shelving(**other: object) -> dict[str, object]:
    return {"tag": "probe-open", "ring": "middle", "minutes": 30, "reason": "A worn lead", "who": "Mina", **other}


def test_an_alarm_is_put_aside_seen_there_and_taken_back(with_an_open_probe) -> None:
    daemon = with_an_open_probe
    assert daemon.post("/api/shelvings", shelving()).status_code == 200
    now = seen(daemon)
    assert now.alarms == ()
    assert now.mood == "minded"
    assert "put aside until" in now.sentence
    assert "All well" not in now.sentence
    (one,) = now.shelved
    assert (one.tag, one.ring, one.reason, one.who, one.holds) == ("probe-open", "middle", "A worn lead", "Mina", True)
    assert one.until_utc_ms - one.since_utc_ms == 30 * 60_000
    assert (
        httpx.delete(f"{daemon.url}/api/shelvings?tag=probe-open&ring=middle&who=Wren", timeout=60).status_code == 200
    )
    now = seen(daemon)
    assert now.shelved == ()
    assert [(a.tag, a.state) for a in now.alarms] == [("probe-open", "unacknowledged")], "judged at once"
    assert [(d.words, d.who) for d in now.alarms[0].history] == [
        ("Taken back", "Wren"),
        ("Put aside: A worn lead", "Mina"),
        ("Raised", ""),
    ]


def test_a_probe_goes_out_of_service_and_comes_back(with_an_open_probe) -> None:
    daemon = with_an_open_probe
    asked = {"ring": "middle", "reason": "Its lead is worn through", "who": "Mina"}
    assert daemon.post("/api/out-of-service", asked).status_code == 200
    now = seen(daemon)
    assert now.alarms == ()
    assert [(one.ring, one.reason, one.who) for one in now.out_of_service] == [tuple(asked.values())]
    assert [(ring.celsius, ring.fault) for ring in now.rings if ring.name == "middle"] == [(None, "out of service")]
    assert daemon.post("/api/out-of-service", asked).status_code == 422
    assert httpx.delete(f"{daemon.url}/api/out-of-service?ring=middle", timeout=60).status_code == 200
    assert [a.tag for a in seen(daemon).alarms] == ["probe-open"]


@pytest.mark.parametrize(
    ("path", "body", "field", "allowed"),
    [
        ("shelvings", shelving(minutes=61), "minutes", "1 to 60"),
        ("shelvings", shelving(minutes=0), "minutes", "greater than 0"),
        ("shelvings", shelving(reason=" "), "reason", "at least 3"),
        ("shelvings", shelving(tag="stall", ring=None), "tag", "probe-open"),
        ("shelvings", shelving(ring="attic"), "tag", "probe-open"),
        ("out-of-service", {"ring": "attic", "reason": "A worn lead"}, "ring", "bottom, middle, top"),
        ("out-of-service", {"ring": "top", "reason": "x"}, "reason", "at least 3"),
        ("watch", {"who": "", "note": ""}, "who", "name"),
    ],
)
def test_what_cannot_be_is_refused_with_what_can(with_an_open_probe, path, body, field, allowed) -> None:
    answer = with_an_open_probe.post(f"/api/{path}", body)
    assert (answer.status_code, answer.headers["content-type"]) == (422, "application/problem+json")
    problem = answer.json()
    assert [each["field"] for each in problem["fields"]] == [field]
    assert allowed in json.dumps(problem)
    for there in ("shelvings?tag=stall", "shelvings?tag=probe-open&ring=middle", "out-of-service?ring=top"):
        assert httpx.delete(f"{with_an_open_probe.url}/api/{there}", timeout=60).status_code == 422, there


def test_the_watch_is_taken_handed_over_and_laid_down(own_daemon) -> None:
    own_daemon.post("/api/rehearsal/speed", {"speed": 1})  # so that nobody else is heard of in between
    for who, note in (("Mina", ""), ("Wren", "Medium since six. Top plug is in.")):
        assert own_daemon.post("/api/watch", {"who": who, "note": note}).status_code == 200
        duty = seen(own_daemon).duty
        assert (duty.holder, duty.note, duty.reached_by) == (who, note, ""), "given is not answered"
        assert duty.asked is not None
        assert "The watch was handed to you" in duty.asked.words
        assert duty.taken_utc_ms
    taken = seen(own_daemon).duty.taken_utc_ms
    own_daemon.until(lambda: seen(own_daemon).now_utc_ms > taken)  # a rehearsal's clock goes by steps
    assert own_daemon.post("/api/watch/in-reach", {}).status_code == 200
    assert seen(own_daemon).duty.reached_by == "Wren", "no name is whoever holds the watch"
    assert own_daemon.post("/api/watch", {"who": "", "note": "All off"}).status_code == 200
    assert seen(own_daemon).duty.holder == ""


def test_a_restart_forgets_neither_shelf_nor_probe_nor_watch(with_an_open_probe) -> None:
    daemon = with_an_open_probe
    daemon.post("/api/shelvings", shelving())
    daemon.post("/api/out-of-service", {"ring": "top", "reason": "A worn lead", "who": "Mina"})
    daemon.post("/api/watch", {"who": "Wren", "note": "Top probe is out"})
    before = seen(daemon)
    daemon.end()
    daemon.start()
    after = seen(daemon)
    assert [(one.tag, one.reason, one.who) for one in after.shelved] == [("probe-open", "A worn lead", "Mina")]
    assert abs(after.shelved[0].until_utc_ms - before.shelved[0].until_utc_ms) < 2000
    assert after.out_of_service == before.out_of_service
    assert (after.duty.holder, after.duty.note) == ("Wren", "Top probe is out")


# The page


def test_an_alarm_is_put_aside_with_a_reason_and_taken_back_on_the_page(with_an_open_probe, looker) -> None:
    page = looker.look(with_an_open_probe)
    page.evaluate("localStorage.setItem('who', 'Mina')")
    alarm = page.locator(".alarm").first
    alarm.locator("summary").click()
    alarm.get_by_role("button", name="30 min").click()
    expect(alarm.locator(".line")).to_contain_text("reason")
    alarm.get_by_label("Reason").fill("A worn lead")
    alarm.get_by_role("button", name="30 min").click()
    expect(page.locator("#alarms .alarm")).to_have_count(0)
    expect(page.locator("#aside")).to_contain_text(
        re.compile(r"Until \d\d:\d\d, in (2\d|30) min; still so.*A worn lead \(Mina\)")
    )
    expect(page.locator("#sentence")).to_contain_text("put aside until")
    page.locator("#aside").get_by_role("button", name="Take back").click()
    expect(page.locator("#alarms .alarm")).to_have_count(1)
    expect(page.locator("#aside")).to_be_hidden()


def test_a_high_alarm_is_offered_a_quarter_of_an_hour_at_most(daemon, looker) -> None:
    def high(now: dict[str, Any]) -> None:
        now["alarms"] = [
            {
                "episode": "a1", "tag": "kiln-limit", "ring": None, "priority": "high", "state": "unacknowledged",
                "since_utc_ms": now["now_utc_ms"], "seen": "Above the kiln's own limit.", "first_action": "All off.",
                "joined": [], "acknowledged": False, "acknowledged_by": None, "shelf_minutes": 15, "history": [],
            }
        ]  # fmt: skip

    page = looker.told(daemon, high)
    page.locator(".alarm summary").click()
    expect(page.locator(".alarm .settings button:visible")).to_have_text(["10 min", "15 min"])


def test_a_probe_goes_out_of_service_on_the_page(own_daemon, looker) -> None:
    page = looker.look(own_daemon)
    page.locator(".band").first.click()
    page.locator("#turn-top summary").click()
    page.locator("#turn-top").get_by_label("Reason").fill("A worn lead")
    page.locator("#turn-top").get_by_role("button", name="out of service").click()
    expect(page.locator("#aside")).to_contain_text("The top probe is out of service")
    expect(page.locator(".bands li").first.locator(".fault")).to_have_text("out of service")
    page.locator("#aside").get_by_role("button", name="Put back in service").click()
    expect(page.locator("#aside")).to_be_hidden()


def test_the_watch_is_handed_over_with_a_note_on_the_page(own_daemon, looker) -> None:
    page = looker.look(own_daemon)
    looker.down_to(page, "duty")
    page.locator("#duty summary").click()
    page.get_by_role("button", name="This person holds the watch").click()
    expect(page.locator("#duty .line")).to_contain_text("Write the name")
    page.fill("#holder", "Wren")
    page.fill("#hand-over", "Medium since six")
    with page.expect_request("**/api/watch/in-reach") as sent:  # whoever takes it by their own hands is there
        page.get_by_role("button", name="This person holds the watch").click()
    assert sent.value.post_data_json == {"who": "Wren"}
    expect(page.locator("#duty .holds")).to_contain_text("Wren holds the watch since")
    expect(page.locator("#duty")).to_contain_text("Handed over with: Medium since six")
    assert own_daemon.now()["duty"]["holder"] == "Wren"
    expect(page.locator("#duty")).to_contain_text("Last known in reach")
    with page.expect_request("**/api/watch/in-reach") as sent:
        page.get_by_role("button", name="Wren is in reach").click()
    assert sent.value.post_data_json == {"who": "Wren"}
    answered: list[str] = []
    page.on("request", lambda asked: answered.append(asked.url) if asked.url.endswith("in-reach") else None)
    page.locator("#duty summary").click()
    page.fill("#holder", "Mina")
    page.get_by_role("button", name="This person holds the watch").click()
    expect(page.locator("#duty .holds")).to_contain_text("Mina holds the watch since")
    assert answered == [], "who gives it away answers for nobody"


def test_whoever_was_given_the_watch_is_asked_and_not_called_in_reach_meanwhile(daemon, looker) -> None:
    def given(now: dict[str, Any]) -> None:
        at = now["now_utc_ms"] - 60_000
        asked = {"words": "Are you in reach? The watch was handed to you.", "since_utc_ms": at}
        now["duty"] = {
            "holder": "Mina", "note": "", "taken_utc_ms": at, "reached_by": "", "reached_utc_ms": None, "asked": asked,
        }  # fmt: skip

    page = looker.told(daemon, given)
    expect(page.locator("#asked")).to_contain_text("Are you in reach? The watch was handed to you.")
    looker.down_to(page, "duty")
    expect(page.locator("#duty")).to_contain_text("Mina has not said yet that they are in reach")


@pytest.mark.parametrize("scheme", ["light", "dark"])
def test_in_reach_is_one_tap_as_wide_as_the_thumb(daemon, looker, scheme) -> None:
    def asked(now: dict[str, Any]) -> None:
        now["duty"]["asked"] = {
            "words": "Are you in reach? Cone 05 should drop at 13:21.", "since_utc_ms": now["now_utc_ms"] - 240_000,
        }  # fmt: skip

    page = looker.told(daemon, asked, scheme=scheme)
    button = page.get_by_role("button", name="I am in reach")
    expect(page.locator("#asked")).to_contain_text("Cone 05 should drop at 13:21.")
    box = button.bounding_box()
    assert box
    assert box["width"] > 300
    with page.expect_request("**/api/watch/in-reach") as sent:
        button.click()
    assert sent.value.method == "POST"


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_everybody_can_read_what_is_put_aside_asked_and_folded(daemon, looker, axe, width, height, scheme) -> None:
    def much(now: dict[str, Any]) -> None:
        now["shelved"] = examples.NOW["shelved"]
        now["out_of_service"] = [{"ring": "top", "since_utc_ms": now["now_utc_ms"], "reason": "A lead", "who": "Mina"}]
        now["duty"] = {
            **examples.NOW["duty"],
            "asked": {"words": "Are you in reach?", "since_utc_ms": now["now_utc_ms"]},
        }
        stopped = {"running": False, "since_utc_ms": 0, "tag": "", "words": "It stands still.", "may_arm": True}
        now["room"] = {"sounder": "silent", "lamp": "slow", "button": True, "cut_out": stopped}

    page = looker.told(daemon, much, width=width, height=height, scheme=scheme)
    looker.down_to(page, "duty")
    page.locator("#duty summary").click()
    page.locator(".band").first.click()
    expect(page.locator("#room")).to_contain_text("blinking, slow")
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert axe(page) == []


def test_another_kiln_of_this_machine_is_a_link_at_the_foot_of_now(daemon, looker, axe) -> None:
    assert daemon.get("/api/kilns").json() == []
    page = looker.look(daemon)
    expect(page.locator("#kilns")).to_be_hidden()
    page.route("**/api/kilns", lambda asked: asked.fulfill(json=[{"kiln": "Raku", "port": 8421, "address": ""}]))
    page.reload()
    page.wait_for_selector(".band")
    link = page.get_by_role("link", name="Raku")
    expect(link).to_have_attribute("href", "http://localhost:8421/")
    assert axe(page) == []
