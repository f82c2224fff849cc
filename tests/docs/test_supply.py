"""The handbook's page of libraries, in step with the locks: versions, licences, reasons, wheels for a Pi."""

import re
import runpy
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[2]
SUPPLY = runpy.run_path(str(ROOT / "tests/docs/supply.py"))
PAGE = (ROOT / "web/spyhole_web/handbook/supply.md").read_text()

# Licences that let spyhole be given on under Apache-2.0. LGPL and MPL are met by leaving those libraries as they are.
MAY_BE = re.compile(r"Apache|BSD|MIT|PSF-2\.0|Mozilla|MPL|LGPL|GNU Lesser|EPL-2\.0 OR BSD")


def rows(name: str) -> list[tuple[str, ...]]:
    """A table of the page, without its size column: a wheel for another machine has another size."""
    found = re.search(rf"<!-- {name}: begin -->\n(.*?)<!-- {name}: end -->", PAGE, re.DOTALL)
    assert found
    lines = [line for line in found[1].splitlines() if line.startswith("| ")][2:]
    return [without_size(tuple(line[2:-2].split(" | "))) for line in lines]


def without_size(row: tuple[str, ...]) -> tuple[str, ...]:
    return (*row[:3], *row[4:])


@pytest.mark.parametrize("name", ["direct", "indirect"])
def test_the_page_names_what_the_locks_hold(name: str) -> None:
    assert rows(name) == [without_size(row) for row in SUPPLY[name]()], "type: .venv/bin/python tests/docs/supply.py"


def test_each_dependency_has_its_reason_and_what_it_replaces() -> None:
    assert set(SUPPLY["WHY"]) == set(SUPPLY["asked_for"]())


def test_every_library_has_a_licence_that_may_be_given_on() -> None:
    licences = {row[0]: row[2] for row in (*SUPPLY["direct"](), *SUPPLY["indirect"]())}
    assert {name: said for name, said in licences.items() if not MAY_BE.search(said)} == {}


def test_the_wheels_for_a_pi_were_checked_with_this_very_lock() -> None:
    assert f"Python 3.11 and Python 3.13, with the lock `{SUPPLY['digest']()}`" in PAGE, "type: make supply"
