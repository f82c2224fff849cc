"""A link in a message: opening it changes nothing, its button acknowledges once, and nobody can make one up."""

import socket
import threading
from collections.abc import Iterator
from dataclasses import dataclass, field, replace
from types import SimpleNamespace
from typing import Any

import httpx
import pytest
import uvicorn
from fastapi import FastAPI

from spyhole.channels.links import SignedLinks, key_in
from spyhole.core.refusal import Refusal
from spyhole.services.links import Claim, Purpose
from spyhole_web.links import link_routes

NOW = 1_951_155_600_000
LINKS = SignedLinks(b"k" * 32)
CLAIM = Claim(Purpose.ACKNOWLEDGE, "a7", "Ruth", NOW + 1000)


@dataclass
class Desk:
    """Just what a link needs of one: one alarm, and who acknowledged it."""

    done: list[tuple[str, str]] = field(default_factory=list)
    reached: list[str] = field(default_factory=list)
    stands: bool = True
    at_ms: int = NOW
    refuses: bool = False

    def now(self) -> Any:
        alarm = SimpleNamespace(
            episode="a7", seen="The <top> ring is at 1301 degC.", first_action="All switches off.",
            acknowledged=bool(self.done), acknowledged_by=self.done[-1][1] if self.done else None,
        )  # fmt: skip
        alarms = (alarm,) if self.stands else ()
        return SimpleNamespace(kiln="Puffin", sentence="All is well.", now_utc_ms=self.at_ms, alarms=alarms)

    def acknowledge(self, episode: str, who: str) -> None:
        if self.refuses:
            raise Refusal("episode", "no alarm is called that")
        self.done.append((episode, who))


@pytest.fixture
def desk() -> Desk:
    return Desk()


@pytest.fixture
def page(desk: Desk) -> Iterator[httpx.Client]:
    app = FastAPI()
    app.include_router(link_routes(desk, LINKS, desk.reached.append))  # type: ignore[arg-type]
    with socket.create_server(("127.0.0.1", 0)) as listening:
        server = uvicorn.Server(uvicorn.Config(app, log_level="error", lifespan="off"))
        thread = threading.Thread(target=server.run, args=([listening],))
        thread.start()
        with httpx.Client(base_url=f"http://127.0.0.1:{listening.getsockname()[1]}", timeout=60) as client:
            yield client
        server.should_exit = True
        thread.join()


def test_a_scanner_that_opens_every_link_acknowledges_nothing(page: httpx.Client, desk: Desk) -> None:
    for _ in range(3):
        answer = page.get(f"/link/{LINKS.sign(CLAIM)}")
        assert answer.status_code == 200
        assert "The &lt;top&gt; ring is at 1301 degC. All switches off. Ruth, do you see to it?" in answer.text
        assert '<form method="post"><button type="submit">' in answer.text
        assert page.head(f"/link/{LINKS.sign(CLAIM)}").status_code == 405
    assert desk.done == []


def test_the_button_acknowledges_once_in_the_name_of_who_was_told(page: httpx.Client, desk: Desk) -> None:
    assert page.post(f"/link/{LINKS.sign(CLAIM)}").status_code == 200
    again = page.post(f"/link/{LINKS.sign(replace(CLAIM, person='Ines'))}")
    assert "already" in again.text
    assert desk.done == [("a7", "Ruth")]
    assert "Ruth sees to it" in page.get(f"/link/{LINKS.sign(CLAIM)}").text


def test_a_link_expires_by_the_watchs_own_time(page: httpx.Client, desk: Desk) -> None:
    desk.at_ms = NOW + 1000
    assert page.get(f"/link/{LINKS.sign(CLAIM)}").status_code == 410
    assert page.post(f"/link/{LINKS.sign(CLAIM)}").status_code == 410
    assert desk.done == []


def test_nobody_can_make_one_up_or_change_one(page: httpx.Client, desk: Desk) -> None:
    token = LINKS.sign(CLAIM)
    strangers = SignedLinks(b"x" * 32).sign(CLAIM)
    changed = [token[:at] + ("A" if token[at] != "A" else "B") + token[at + 1 :] for at in range(0, len(token) - 1, 5)]
    for made_up in [strangers, "a", token[:-4], *changed]:
        assert page.post(f"/link/{made_up}").status_code == 410, made_up
    assert desk.done == []


def test_what_is_over_needs_nobody(page: httpx.Client, desk: Desk) -> None:
    desk.stands = False
    assert "over" in page.get(f"/link/{LINKS.sign(CLAIM)}").text
    assert "<form" not in page.get(f"/link/{LINKS.sign(CLAIM)}").text
    page.post(f"/link/{LINKS.sign(CLAIM)}")
    assert desk.done == []


def test_an_answer_that_is_refused_says_why(page: httpx.Client, desk: Desk) -> None:
    desk.refuses = True
    answer = page.post(f"/link/{LINKS.sign(CLAIM)}")
    assert answer.status_code == 409
    assert "no alarm is called that" in answer.text


def test_a_link_for_one_purpose_does_nothing_else(page: httpx.Client, desk: Desk) -> None:
    reach = LINKS.sign(replace(CLAIM, purpose=Purpose.IN_REACH, subject="p12"))
    assert "are you in reach?" in page.get(f"/link/{reach}").text
    assert desk.reached == []
    page.post(f"/link/{reach}")
    assert (desk.reached, desk.done) == (["Ruth"], [])


def test_the_key_stays_in_its_folder_and_is_made_once(tmp_path: Any) -> None:
    key = key_in(tmp_path / "data")
    assert key_in(tmp_path / "data") == key
    assert (tmp_path / "data" / "links.key").stat().st_mode & 0o777 == 0o600
    assert key_in(tmp_path / "other") != key
    assert SignedLinks(key).read(SignedLinks(key).sign(CLAIM)) == CLAIM
