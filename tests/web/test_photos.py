"""Photographs of the cones over the wire, and an entry that is written down late."""

import importlib.util
from pathlib import Path

import httpx

_spec = importlib.util.spec_from_file_location("jpegs", Path(__file__).parents[1] / "core" / "forms" / "test_jpeg.py")
assert _spec is not None
assert _spec.loader is not None
_jpegs = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(_jpegs)
JPEG: bytes = _jpegs.CHROMIUM
HEADERS = {"content-type": "image/jpeg"}


def test_a_photograph_is_kept_shown_by_an_entry_and_never_changes(daemon) -> None:
    done = httpx.post(f"{daemon.url}/api/photos?who=Wren", content=JPEG, headers=HEADERS, timeout=60)
    assert done.status_code == 200, done.text
    newest = daemon.entry("Photograph of the cones")
    assert (newest["words"], newest["who"], newest["sequence"]) == (
        "Photograph of the cones", "Wren", done.json()["sequence"],
    )  # fmt: skip
    shown = daemon.get(f"/api/photos/{newest['photo']}.jpg")
    assert shown.content == JPEG
    assert shown.headers["content-type"] == "image/jpeg"
    assert shown.headers["x-content-type-options"] == "nosniff"
    assert "immutable" in shown.headers["cache-control"]
    assert daemon.get(f"/api/photos/{'0' * 32}.jpg").status_code == 404


def test_what_is_no_photograph_is_refused_by_its_bytes_and_what_is_too_large_by_its_length(daemon) -> None:
    for what, status in ((b"<svg/>", 422), (JPEG[:-9], 422), (JPEG + b"\0" * (1 << 20), 413)):
        answer = httpx.post(f"{daemon.url}/api/photos", content=what, headers=HEADERS, timeout=60)
        assert answer.status_code == status
        assert answer.headers["content-type"] == "application/problem+json"
    assert daemon.post("/api/entries", {"kind": "photo", "value": "1" * 32}).status_code == 422


def test_a_turn_of_some_minutes_ago_stands_at_its_own_time(daemon) -> None:
    before = daemon.now()["now_utc_ms"]
    asked = {"kind": "plugs", "subject": "", "value": "half", "minutes_ago": 12}
    sequence = daemon.post("/api/entries", asked).json()["sequence"]
    now = daemon.now()
    (entry,) = (one for one in now["entries"] if one["sequence"] == sequence)
    assert before - 13 * 60_000 < entry["utc_ms"] < now["now_utc_ms"] - 11 * 60_000
    assert daemon.post("/api/entries", {**asked, "minutes_ago": 1000}).status_code == 422
