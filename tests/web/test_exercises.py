"""An exercise, from its story to what was right: on the page of the whole daemon."""

from playwright.sync_api import expect


def test_the_shutoff_has_jammed_what_now(another, looker, axe) -> None:
    kiln = another("--speed", "60")
    page = looker.look(kiln, path="/exercises", shows="article")
    assert axe(page) == []
    expect(page.locator("article")).to_have_count(6)
    page.get_by_role("button", name="Begin: The shut-off has jammed").click()
    page.locator(".question").wait_for(timeout=600_000)
    assert axe(page) == []
    for ring in ("bottom", "middle", "top"):
        page.get_by_role("group", name=ring).get_by_role("button", name="off").click()
        expect(page.get_by_role("group", name=ring).get_by_role("button", name="off")).to_have_attribute(
            "aria-pressed", "true"
        )
    page.get_by_role("button", name="in, with glasses").click()
    expect(page.locator(".line")).to_contain_text("Cone 05: down")
    page.get_by_role("button", name="That is all I would do").click()
    verdict = page.locator("#verdict")
    expect(verdict).to_contain_text("Every switch off.")
    expect(verdict).to_contain_text("Look in at the cones, with glasses.")
    missed = verdict.locator("h3", has_text="Missed").locator("xpath=following-sibling::ul[1]")
    expect(missed).to_contain_text("Acknowledge the alarm")
    assert axe(page) == []
    assert looker.complaints == []
