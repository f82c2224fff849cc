"""What /openapi.json says: a sentence and an example for every address, and who is let in."""

from collections.abc import Iterator
from typing import Any

import httpx
import pytest

from spyhole.app.build import build
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.app.wiring import emulated_wiring
from spyhole.core.words import Manner
from spyhole_hardware.emulated.puffin import TONIGHT
from spyhole_web.guard import for_everybody

Described = dict[str, Any]


@pytest.fixture(scope="module")
def description(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Described]:
    """Of a rehearsal, which has every address there is."""
    rehearsal = rehearsal_of(TONIGHT, Notes(), start_utc_ms=1_951_155_600_000)
    world = world_around(rehearsal, wiring=emulated_wiring())
    studio = studio_of(TONIGHT, Manner(), 1.0)
    daemon = build(studio, world, tmp_path_factory.mktemp("puffin"), port=0, notifier=Notifier())
    try:
        # On a busy machine the page's thread may not listen yet: asked again, each time after a longer wait.
        with httpx.Client(transport=httpx.HTTPTransport(retries=8), timeout=60) as client:
            yield client.get(f"{daemon.address}/openapi.json").json()
    finally:
        daemon.lifecycle.stop()


def operations(description: Described) -> Iterator[tuple[str, str, Described]]:
    for path, methods in description["paths"].items():
        for method, operation in methods.items():
            yield path, method, operation


def test_every_address_says_what_it_does(description: Described) -> None:
    mute = [(p, m) for p, m, does in operations(description) if not does.get("description", "").rstrip().endswith(".")]
    assert mute == []
    assert len(list(operations(description))) > 60


def test_every_body_has_an_example(description: Described) -> None:
    """Of the whole, or of each field that has no usual value."""
    shapes = description["components"]["schemas"]
    bare = []
    for path, method, does in operations(description):
        body = does.get("requestBody", {}).get("content", {}).get("application/json", {}).get("schema")
        if body is not None:
            bare += [(path, method, name) for name in without_example(shapes, body)]
    assert bare == []


def without_example(shapes: Described, schema: Described) -> list[str]:
    shape = shapes[schema["$ref"].rpartition("/")[2]] if "$ref" in schema else schema
    if "examples" in shape or "example" in shape or "enum" in shape or "const" in shape:
        return []
    wanted = shape.get("required", [])
    fields = {name: field for name, field in shape.get("properties", {}).items() if name in wanted}
    return [name for name, field in fields.items() if not shown(shapes, field)]


def shown(shapes: Described, field: Described) -> bool:
    if "examples" in field or "example" in field or "enum" in field or "const" in field:
        return True
    if "$ref" in field:
        return without_example(shapes, field) == []
    return field.get("type") == "array" and shown(shapes, field["items"])


def test_who_is_let_in_is_said(description: Described) -> None:
    assert description["security"] == [{"token": []}]
    for path, _, does in operations(description):
        assert does.get("security", description["security"]) == ([] if for_everybody(path) else [{"token": []}]), path


def test_every_error_there_may_be_is_a_problem(description: Described) -> None:
    for path, method, does in operations(description):
        errors = {status: answer for status, answer in does["responses"].items() if status >= "400"}
        assert {"401", "422", "500"} <= set(errors), (path, method)
        plain = [status for status, answer in errors.items() if "application/problem+json" not in answer["content"]]
        assert plain == [] or path.startswith("/link/"), (path, method, plain)
