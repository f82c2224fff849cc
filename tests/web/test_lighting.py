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
