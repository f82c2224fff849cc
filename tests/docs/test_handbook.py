"""The handbook: whole, true to the code, and readable where there is no network."""

import re
import runpy
from html.parser import HTMLParser
from pathlib import Path

import pytest

from spyhole.app.settings import KEYS
from spyhole.core.alarms.catalogue import CATALOGUE
from spyhole.core.forms.kiln_toml import _KEYS as KILN_KEYS
from spyhole.core.forms.plan_toml import _KEYS as PLAN_KEYS
from spyhole.core.forms.stage_toml import STAGE_KEYS
from spyhole.services.conditions import ALL
from spyhole_hardware.emulated.troubles import TROUBLES
from spyhole_web.handbook.pages import CONTENTS, DRAWINGS, document, drawing, source
from spyhole_web.static import ROOMS

ROOT = Path(__file__).parents[2]
HANDBOOK = ROOT / "web/spyhole_web/handbook"
TABLES = runpy.run_path(str(ROOT / "tests/docs/tables.py"))
DRAWN = runpy.run_path(str(ROOT / "hardware/drawings.py"))["DRAWINGS"]


class Seen(HTMLParser):
    """Ids, links and pictures of a document."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.ids: set[str] = set()
        self.links: list[str] = []
        self.pictures: list[str] = []
        self.feed(text)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        given = dict(attrs)
        self.ids |= {given["id"] or ""} if "id" in given else set()
        if tag == "a":
            self.links.append(given["href"] or "")
        if tag == "img":
            assert given.get("alt"), "a picture says what it shows"
            self.pictures.append(given["src"] or "")


def test_every_file_is_in_the_contents() -> None:
    assert {path.stem for path in HANDBOOK.glob("*.md")} == set(CONTENTS)
    assert {path.name for path in HANDBOOK.glob("*.svg")} == set(DRAWINGS) == set(DRAWN)


@pytest.mark.parametrize("name", TABLES["TABLES"])
def test_what_is_made_from_the_code_is_as_the_code_has_it(name: str) -> None:
    page = source(TABLES["PAGE_OF"].get(name, name))
    assert TABLES["written"](name, page) == page, "type: .venv/bin/python tests/docs/tables.py"


@pytest.mark.parametrize("name", DRAWINGS)
def test_a_drawing_is_as_its_source_has_it(name: str) -> None:
    assert drawing(name).decode() == DRAWN[name](), "type: .venv/bin/python hardware/drawings.py"


def test_every_alarm_condition_and_setting_has_its_sentence() -> None:
    assert {f"## {tag}" for tag in CATALOGUE} <= set(source("alarms").splitlines())
    assert all(f"**{condition.code}**" in source("conditions") for condition in ALL)
    assert all(f"`{key}`" in source("settings") for key in KEYS)


@pytest.mark.parametrize(
    ("section", "keys"), [("In the kiln's file", KILN_KEYS), ("In the plan's file", (*PLAN_KEYS, *STAGE_KEYS))]
)
def test_every_key_of_the_kilns_and_the_plans_file_is_named(section: str, keys: tuple[str, ...]) -> None:
    said = source("settings").partition(f"## {section}\n")[2].partition("\n## ")[0]
    assert [key for key in keys if not re.search(rf"`{key}\b", said)] == []


def test_every_view_of_the_page_has_its_paragraph() -> None:
    assert [name for _, name in ROOMS if f"\n**{name}.** " not in source("page")] == []


def test_an_alarm_names_a_rehearsal_that_there_is() -> None:
    assert set(TABLES["RAISED_BY"]) <= set(CATALOGUE)
    assert set(TABLES["RAISED_BY"].values()) <= {trouble.name for trouble in TROUBLES}


@pytest.mark.parametrize("name", CONTENTS)
def test_a_link_leads_somewhere(name: str) -> None:
    seen = Seen(document(name))
    known = {"/", "/handbook", ""} | {f"/handbook/{each}" for each in (*CONTENTS, *DRAWINGS)}
    for link in seen.links:
        page, _, anchor = link.partition("#")
        assert page in known, f"{name} links to {link}"
        if anchor:
            there = name if page == "" else page.rpartition("/")[2]
            assert anchor in Seen(document(there)).ids | {"text"}
    assert {picture.rpartition("/")[2] for picture in seen.pictures} <= set(DRAWINGS)


@pytest.mark.parametrize("name", CONTENTS)
def test_a_table_too_wide_for_a_phone_says_under_what_each_cell_stands(name: str) -> None:
    """A phone shows some 45 letters side by side."""
    for table in re.findall(r"<table.*?</table>", document(name), re.DOTALL):
        heads = [re.sub("<[^>]+>", "", head) for head in re.findall(r"<th[^>]*>(.*?)</th>", table)]
        rows = [re.findall(r"<td([^>]*)>(.*?)</td>", row, re.DOTALL) for row in table.split("<tr")[1:]]
        widest = max(sum(len(re.sub("<[^>]+>", "", cell)) for _, cell in row) for row in rows)
        assert widest < 75 or 'class="stacks" role="table"' in table
        if "role=" not in table:
            continue
        for row in rows:
            told = [re.search('data-under="(.*?)"', given) for given, _ in row]
            assert all(under is None or under[1] in heads for under in told)
            assert [bool(under) for under in told[1:]] == [
                bool(cell and (heads and heads[n + 1])) for n, (_, cell) in enumerate(row[1:])
            ]


@pytest.mark.parametrize("name", CONTENTS)
def test_nothing_comes_from_elsewhere(name: str) -> None:
    assert re.findall(r'(?:src|href)="(?:https?:)?//', document(name)) == []
    assert "<script" not in document(name)
    assert " style=" not in document(name)
