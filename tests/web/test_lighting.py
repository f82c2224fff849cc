"""A cold kiln that nobody has lit: what may begin on it. How a firing begins is in test_planning."""

import re
import shutil

from playwright.sync_api import expect


def test_a_second_firing_cannot_begin_over_the_first(cold_kiln) -> None:
    assert cold_kiln.post("/api/entries", {"kind": "start", "who": "Mina"}).status_code == 200
    refused = cold_kiln.post("/api/entries", {"kind": "start", "who": "Mina"})
    assert refused.status_code == 422
    assert "A firing is under way" in refused.json()["detail"]


def test_one_probe_on_three_rings_is_a_kiln_too(cold_kiln, looker) -> None:
    """The common first kit: rings without a probe show no number, and say so."""
    cold_kiln.end()
    shutil.rmtree(cold_kiln.data / "puffin")  # the emulated kiln is another one now
    kiln = cold_kiln.data.parent / "puffin.toml"
    first, *rest = kiln.read_text().split("[[ring]]")
    only_middle = [ring if "middle" in ring else re.sub(r"probe = .*\n", "", ring) for ring in rest]
    kiln.write_text("[[ring]]".join([first, *only_middle]))
    cold_kiln.start()
    cold_kiln.until(lambda: any(ring["celsius"] is not None for ring in cold_kiln.now()["rings"]))
    rings = {ring["name"]: ring for ring in cold_kiln.now()["rings"]}
    assert [name for name, ring in rings.items() if ring["has_probe"]] == ["middle"]
    page = looker.look(cold_kiln)
    expect(page.locator("#stack")).to_contain_text("no probe")
    page.locator("#next").get_by_role("button", name="Make ready and light it").click()
    page.get_by_role("button", name="All seen to. It is lit").click()
    expect(page.locator("#plan")).to_contain_text("candling")


def test_a_kiln_that_heats_and_that_nobody_lit_is_noticed_and_claimed(cold_kiln, looker) -> None:
    """The emulated kiln is fired by a keeper who writes nothing down: as when somebody forgot to."""
    page = looker.look(cold_kiln)
    expect(page.locator("#sentence")).to_contain_text("No firing")
    cold_kiln.post("/api/rehearsal/speed", {"speed": 1200})
    cold_kiln.until(lambda: any(alarm["tag"] == "unplanned-heat" for alarm in cold_kiln.now()["alarms"]), 400)
    cold_kiln.post("/api/rehearsal/speed", {"speed": 1})
    alarm = page.locator(".alarm").first
    expect(alarm).to_contain_text("no firing", ignore_case=True)
    alarm.get_by_role("link", name="It is mine").click()
    expect(page.locator("#aboard")).to_contain_text("heats since")
    claim = page.get_by_label("It is mine: the firing began then")
    expect(claim).to_be_checked()
    since = cold_kiln.get("/api/start").json()["heats_utc_ms"]
    page.get_by_role("button", name="All seen to. It is mine").click()
    page.wait_for_url(f"{cold_kiln.url}/")
    expect(page.locator("#plan")).to_contain_text("Bisque, cone 05, overnight")
    cold_kiln.post("/api/rehearsal/speed", {"speed": 60})
    expect(page.locator(".alarm", has_text="no firing")).to_have_count(0, timeout=120_000)
    firing = cold_kiln.now()["firing"]
    assert abs(firing["started_utc_ms"] - since) < 60_000, "it began when the heat was first seen"
    assert firing["started_utc_ms"] < cold_kiln.now()["now_utc_ms"] - 5 * 60_000
