"""A cold kiln that nobody has lit: the page offers to begin the watch, with its cautions, and then watches."""

from playwright.sync_api import expect


def test_a_firing_begins_with_one_tap_under_its_caution(cold_kiln, looker) -> None:
    page = looker.look(cold_kiln)
    following = page.locator("#next")
    expect(following).to_contain_text("Light Puffin for cone 05")
    expect(following).to_contain_text("Damp ware explodes")
    following.get_by_role("button", name="It is lit").click()
    expect(page.locator("#plan")).to_contain_text("candling")
    firing = cold_kiln.now()["firing"]
    assert (firing["cone"], firing["stage"], firing["stage_number"]) == ("05", "candling", 1)
    written = [entry["words"] for entry in cold_kiln.now()["entries"]]
    assert written == ["Bottom to low", "Lit, for cone 05"]


def test_a_second_firing_cannot_begin_over_the_first(cold_kiln) -> None:
    assert cold_kiln.post("/api/entries", {"kind": "start", "who": "Mina"}).status_code == 200
    refused = cold_kiln.post("/api/entries", {"kind": "start", "who": "Mina"})
    assert refused.status_code == 422
    assert "A firing is under way" in refused.json()["detail"]
