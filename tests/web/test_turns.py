"""A turn that curve and log tell differently: the question, over the wire and on the page of the real daemon."""

from typing import Any

import httpx
import pytest
from playwright.sync_api import expect

from spyhole_web import examples


def doubted(now: dict[str, Any]) -> None:
    now["duty"]["asked"] = None
    now["turn_asked"] = {**examples.NOW["turn_asked"], "since_utc_ms": now["now_utc_ms"] - 240_000}


@pytest.mark.timeout(1800)
def test_a_turn_nobody_wrote_is_asked_about_and_yes_writes_it_down(another, looker) -> None:
    """Puffin's keeper turns to high and writes it down; that is taken back, so that only the curve knows."""
    daemon = another("--speed", "200")

    def turned() -> int:
        return sum(one["words"].endswith("to high") for one in daemon.now()["entries"])

    daemon.until(lambda: turned() == len(daemon.now()["rings"]), 600)  # a ring after the other is written down
    daemon.post("/api/rehearsal/speed", {"speed": 1})
    for entry in daemon.now()["entries"]:
        if entry["words"].endswith("to high") and not entry["undone"]:
            assert httpx.delete(f"{daemon.url}/api/entries/{entry['sequence']}", timeout=60).status_code == 200
    daemon.post("/api/rehearsal/speed", {"speed": 200})
    daemon.until(lambda: daemon.now()["turn_asked"] is not None, 600)
    daemon.post("/api/rehearsal/speed", {"speed": 1})
    asked = daemon.now()["turn_asked"]
    assert "rings went to high at about" in asked["words"]
    assert asked["words"].endswith("Was it so?")
    other = daemon.post(f"/api/turns/{asked['question'] + 1}/answer", {"said": "yes"})
    assert (other.status_code, other.headers["content-type"]) == (422, "application/problem+json")
    page = looker.look(daemon)
    page.evaluate("localStorage.setItem('who', 'Mina')")
    question = page.locator("#asked article").filter(has_text="rings went to high")
    question.get_by_role("button", name="Yes").click()
    expect(question).to_be_hidden()
    now = daemon.now()
    assert now["turn_asked"] is None
    assert {(ring["switch"], ring["switch_sure"]) for ring in now["rings"]} == {("high", True)}
    high = [entry for entry in now["entries"] if entry["words"].endswith("to high") and not entry["undone"]]
    assert {entry["who"] for entry in high} == {"Mina"}
    assert {entry["utc_ms"] for entry in high} == {asked["at_utc_ms"]}


def test_no_and_another_time_are_a_tap_and_two(daemon, looker) -> None:
    page = looker.told(daemon, doubted)
    question = page.locator("#asked article").filter(has_text="Was it so?")
    expect(question).to_contain_text("asked 4 min ago")
    with page.expect_request("**/api/turns/41021/answer") as sent:
        question.get_by_role("button", name="No", exact=True).click()
    assert sent.value.post_data_json["said"] == "no"
    expect(question.get_by_role("status")).to_contain_text("No open question")
    expect(question.get_by_role("button", name="It was turned then")).to_be_hidden()
    question.get_by_role("button", name="At another time").click()
    question.get_by_role("button", name="40 minutes ago").click()
    with page.expect_request("**/api/turns/41021/answer") as sent:
        question.get_by_role("button", name="It was turned then").click()
    assert (sent.value.post_data_json["said"], sent.value.post_data_json["minutes_ago"]) == ("then", 40)


@pytest.mark.parametrize("scheme", ["light", "dark"])
@pytest.mark.parametrize(("width", "height"), [(390, 844), (1280, 800)])
def test_everybody_can_read_the_question(daemon, looker, axe, width, height, scheme) -> None:
    page = looker.told(daemon, doubted, width=width, height=height, scheme=scheme)
    page.get_by_role("button", name="At another time").click()
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert axe(page) == []


def test_with_one_probe_the_page_says_what_it_cannot_know(daemon, looker) -> None:
    def alone(now: dict[str, Any]) -> None:
        for ring in now["rings"]:
            if ring["name"] != "middle":
                ring.update(has_probe=False, celsius=None, climb=None, seen_utc_ms=None, fault=None)

    page = looker.told(daemon, alone)
    expect(page.locator("#stack")).to_contain_text(
        "One probe, at the middle ring. It cannot tell how even the rings are"
    )
    expect(page.locator("#stack")).to_contain_text("a probe that reads low hides an overfire")
    whole = looker.look(daemon)
    whole.wait_for_selector("#curve canvas")  # and what is seldom on the page would be there as well
    expect(whole.locator("#stack")).not_to_contain_text("One probe")
