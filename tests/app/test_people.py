"""`spyhole people`, with a daemon and without; and people who are reached while a kiln fires, through real services."""

import errno
import io
import json
import re
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import httpx
import pytest

from spyhole.app.build import build
from spyhole.app.commands import main
from spyhole.app.hatch import ask
from spyhole.app.notify import Notifier
from spyhole.app.puffin import Notes, rehearsal_of, studio_of, world_around
from spyhole.app.reach_settings import ReachSettings
from spyhole.channels.apprise_channel import AppriseChannel
from spyhole.core.refusal import Refusal
from spyhole.core.words import Manner
from spyhole.services.courier import Reach
from spyhole.store.archive import open_records
from spyhole_hardware.emulated.puffin import TONIGHT

pytestmark = [
    pytest.mark.filterwarnings("ignore:'imghdr' is deprecated:DeprecationWarning"),  # apprise's own, on Python 3.11
]
JSON = "apprise.plugins.custom_json:NotifyJSON"


class Service:
    """A web service on loopback. status: what it answers."""

    def __init__(self) -> None:
        self.status, self.hangs = 200, False
        self.let_go = threading.Event()
        self.tries: list[float] = []
        self.taken: list[dict[str, Any]] = []
        service = self

        class Handler(BaseHTTPRequestHandler):
            def do_POST(self) -> None:
                body = json.loads(self.rfile.read(int(self.headers["Content-Length"])))
                service.tries.append(time.monotonic())
                if service.hangs:
                    service.let_go.wait(1000)
                if service.status == 200:
                    service.taken.append(body)
                self.send_response(service.status)
                self.end_headers()

            def log_message(self, *_: object) -> None:
                """Quiet."""

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.thread = threading.Thread(target=self.server.serve_forever, args=(0.05,))
        self.thread.start()
        self.url = f"json://127.0.0.1:{self.server.server_port}/hunter2"

    def close(self) -> None:
        self.let_go.set()
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()


@pytest.fixture
def service() -> Iterator[Callable[[], Service]]:
    made: list[Service] = []

    def make() -> Service:
        made.append(Service())
        return made[-1]

    yield make
    for one in made:
        one.close()


@pytest.fixture
def people(files: Any, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> Callable[..., str]:
    def run(*words: str, says: str = "", leaves: int = 0) -> str:
        monkeypatch.setattr("sys.stdin", io.StringIO(f"{says}\n"))
        assert main(["people", "--config", str(files.settings), *words]) == leaves
        said = capsys.readouterr()
        return str(said.err if leaves else said.out)

    return run


def test_somebody_is_added_reached_and_asked_whether_it_rang(people: Any, service: Any, files: Any) -> None:
    phone = service()
    assert "Nobody is told of anything" in people("list")
    assert "Ruth is there" in people("add", "Ruth")
    assert "no channel: nothing reaches them" in people("list")
    assert "spyhole people test Ruth phone" in people("channel", "Ruth", "phone", says=phone.url)
    assert "Look at the phone" in people("test", "Ruth", "phone")
    assert [m["title"] for m in phone.taken] == ["Puffin: a trial message"]
    people("rang", "Ruth", "phone", "no")
    people("quiet", "Ruth", "22:00", "07:00")
    shown = people("list")
    assert re.search(
        r"Ruth, keeper, quiet from 22:00 to 07:00\n  phone: IT DID NOT RING when tried; last told 2", shown
    )
    assert "hunter2" not in shown
    assert "no quiet hours" in people("quiet", "Ruth", "none")
    people("drop", "Ruth", "phone")
    people("remove", "Ruth")
    assert "Nobody is told of anything" in people("list")


def test_what_cannot_be_is_refused_and_no_address_is_shown(people: Any) -> None:
    people("add", "Ruth")
    for words, says, problem in (
        (("channel", "Ruth", "phone"), "nosuchservice://hunter2", "a message cannot be sent to what stands there"),
        (("channel", "Ruth", "phone"), "mqtt:", "the settings name no broker"),
        (("channel", "Otto", "phone"), "json://localhost/", "nobody is called 'Otto'"),
        (("quiet", "Ruth", "25:00", "07:00"), "", "are no times of the day"),
        (("test", "Ruth", "phone"), "", "no channel called"),
    ):
        said = people(*words, says=says, leaves=2)
        assert problem in said
        assert "hunter2" not in said


def test_a_trial_that_is_refused_says_so(people: Any, service: Any) -> None:
    phone = service()
    phone.status = 404
    people("add", "Ruth")
    people("channel", "Ruth", "phone", says=phone.url)
    assert "the service refuses this address or its key" in people("test", "Ruth", "phone", leaves=2)


class Watched:
    """A daemon on Puffin, headless and as fast as it goes, with these people of the settings."""

    def __init__(self, folder: Path, trouble: str, messengers: Any, reach: ReachSettings | None = None) -> None:
        self.notes = Notes()
        self.rehearsal = rehearsal_of(TONIGHT, self.notes, start_utc_ms=1_951_155_600_000, trouble=trouble)
        world = world_around(self.rehearsal, messengers)
        studio = studio_of(TONIGHT, Manner(), 30.0)
        self.daemon = build(studio, world, folder, port=0, notifier=Notifier(""), reach=reach)
        self.notes.read = self.daemon.watchkeeper.enter
        self.running = threading.Thread(target=self.daemon.lifecycle.run)
        self.daemon.sampler.start()
        self.running.start()

    def until(self, so: Callable[[], Any], seconds: float = 400.0) -> None:
        end = time.monotonic() + seconds
        while not so():
            assert time.monotonic() < end, "still not so"
            time.sleep(0.02)

    def stop(self) -> None:
        self.daemon.lifecycle.end()
        self.running.join(240)
        self.daemon.lifecycle.stop()


def ails(running: Watched) -> dict[str, str]:
    """What ails the watch itself, as the page says it: a condition, or the alarm it has become."""
    seen = running.daemon.watchkeeper.now()
    holding = {alarm.tag: alarm.seen for alarm in seen.alarms if alarm.state in ("unacknowledged", "acknowledged")}
    return holding | {condition.code: condition.words for condition in seen.conditions}


@pytest.fixture
def watched(tmp_path: Path) -> Iterator[Callable[..., Watched]]:
    made: list[Watched] = []

    def make(trouble: str, messengers: Any = (), **more: Any) -> Watched:
        made.append(Watched(tmp_path / "watched", trouble, messengers, **more))
        return made[-1]

    yield make
    for one in made:
        one.stop()


def test_with_a_daemon_the_command_asks_it_and_it_tells_the_new_one_at_once(
    watched: Any, service: Any, tmp_path: Path
) -> None:
    folder, phone = tmp_path / "watched", service()
    running = watched("night-switch-high")
    assert "Ruth is there" in str(ask(folder, "people", {"do": "add", "name": "Ruth", "role": "keeper"}))
    given = {"do": "channel", "name": "Ruth", "channel": "phone", "address": phone.url, "loud": "no"}
    assert "Ruth is told by phone" in str(ask(folder, "people", given))
    running.until(lambda: any("(a1-0" in m["title"] for m in phone.taken))
    with pytest.raises(Refusal, match="nobody is called 'Otto'"):
        ask(folder, "people", {"do": "remove", "name": "Otto"})
    with pytest.raises(Refusal, match="does not know this command"):
        ask(folder, "sell", {})
    assert (folder / "hatch").stat().st_mode & 0o777 == 0o600
    running.stop()
    assert ask(folder, "people", {"do": "list"}) is None


def test_fault_8_a_channel_that_hangs_delays_neither_another_nor_the_watch(watched: Any, service: Any) -> None:
    hangs, works = service(), service()
    hangs.hangs = True
    running = watched(
        "night-switch-high",
        (
            ("hangs", AppriseChannel(hangs.url, JSON, attempt_seconds=900.0)),
            ("works", AppriseChannel(works.url, JSON)),
        ),
    )
    running.until(lambda: hangs.tries and works.taken)
    assert {one.person: one.error for one in running.daemon.office.deliveries()}["hangs"] == "", "it hangs still"
    before = running.daemon.watchkeeper.now().sequence
    running.until(lambda: running.daemon.watchkeeper.now().sequence > before + 100)
    assert hangs.taken == []


def test_faults_9_and_11_after_an_outage_one_message_says_how_things_stand_and_what_was_missed(
    watched: Any, service: Any
) -> None:
    phone = service()
    phone.status = 500
    running = watched("shutoff-jams", (("Ruth", AppriseChannel(phone.url, JSON)),))
    running.until(lambda: running.rehearsal.keeper.progress.stage == 3)
    running.until(lambda: running.daemon.watchkeeper.now().alarms != ())
    running.until(lambda: running.daemon.office.deliveries()[0].waiting >= 3)
    running.until(lambda: running.daemon.office.deliveries()[0].reach is Reach.FAILING)
    running.until(lambda: "Ruth (the service did not accept it)" in ails(running).get("watch-alerts", ""))
    tries = len(phone.tries)
    assert phone.tries[-1] - phone.tries[0] > tries - 3, "tries are spaced"
    phone.status = 200  # how soon the next try comes is in tests/services/test_telling.py, in simulated time
    running.until(lambda: phone.taken)
    digest = phone.taken[0]
    assert "could not reach you" in digest["title"]
    assert digest["message"].startswith("Now: ")
    named = set(re.findall(r"\((a\d+)-", digest["message"]))
    assert "a1" in named
    assert digest["message"].count("(a1-") == 1, "each alarm is named once"
    keys = re.findall(r"\((\w+)-0\)", " ".join(m["title"] for m in phone.taken))
    assert not set(keys) & named, "what was in the digest is not told again"


def test_disk_and_channel_away_at_once_are_both_on_the_page_and_one_message_goes_out_afterwards(
    watched: Any, service: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    phone = service()
    phone.status = 503
    running = watched("shutoff-jams", (("Ruth", AppriseChannel(phone.url, JSON)),))
    page = running.daemon.watchkeeper.now

    def no_card(*_: object) -> None:
        raise OSError(errno.EIO, "the card is gone")

    monkeypatch.setattr("spyhole.store.writer.Writer._commit", no_card)
    running.until(lambda: any(alarm.tag == "shutoff-overdue" for alarm in page().alarms))
    running.until(lambda: {"watch-store", "watch-alerts"} <= set(ails(running)))
    running.until(lambda: running.daemon.office.deliveries()[0].waiting > 1)
    sequence = page().sequence
    running.until(lambda: page().sequence > sequence + 50)
    monkeypatch.undo()
    phone.status = 200
    running.until(lambda: phone.taken)
    assert phone.taken[0]["message"].startswith("Now: ")
    running.until(lambda: running.daemon.office.deliveries()[0].waiting == 0)
    running.until(lambda: not {"watch-store", "watch-alerts"} & set(ails(running)))
    running.stop()
    assert sum("could not reach you" in message["title"] for message in phone.taken) == 1
    with open_records(tmp_path / "watched") as records:
        # The kiln runs in fast time, so that the next step of the ladder may come up in the moment of stopping.
        assert len(records.pending_messages()) <= 1
        overdue = next(o for _, o in records.outcomes_between("Puffin", 1, 10**9) if o.tag == "shutoff-overdue")
        assert f"Puffin/{overdue.episode}/Ruth/0" in records.told_keys(1000)


def test_a_link_in_a_message_acknowledges_at_the_daemons_own_page(watched: Any, service: Any, tmp_path: Path) -> None:
    phone = service()
    running = watched(
        "night-switch-high",
        (("Ruth", AppriseChannel(phone.url, JSON)),),
        reach=ReachSettings(page_address="http://kiln.example.net:8420"),
    )
    running.until(lambda: any("/link/" in m["message"] for m in phone.taken))
    running.rehearsal.keep_pace(time.monotonic, 1.0)  # and it still stands when somebody opens the link
    told = next(m for m in phone.taken if "/link/" in m["message"])
    path = told["message"].rpartition("http://kiln.example.net:8420")[2]
    url = f"http://127.0.0.1:{running.daemon.guest.port}{path}"
    with urllib.request.urlopen(url, timeout=60) as asked:
        assert b"Ruth, do you see to it?" in asked.read()

    def alarm() -> Any:
        return next(one for one in running.daemon.watchkeeper.now().alarms if f"({one.episode}-" in told["title"])

    assert not alarm().acknowledged
    with urllib.request.urlopen(urllib.request.Request(url, data=b"", method="POST"), timeout=60) as answered:
        assert b"Ruth sees to it" in answered.read()
    assert alarm().acknowledged_by == "Ruth"


def test_the_page_is_told_who_is_reached_and_may_send_a_trial_but_sees_no_address(
    watched: Any, service: Any, tmp_path: Path
) -> None:
    folder, phone = tmp_path / "watched", service()
    running = watched("none")
    ask(folder, "people", {"do": "add", "name": "Ruth", "role": "keeper"})
    given = {"do": "channel", "name": "Ruth", "channel": "phone", "address": phone.url, "loud": "no"}
    ask(folder, "people", given)
    at = f"http://127.0.0.1:{running.daemon.guest.port}/api/people"
    assert httpx.post(f"{at}/Ruth/channels/phone/trial", timeout=60).json() == {"recipient": "Ruth/phone"}
    running.until(lambda: httpx.get(at, timeout=60).json()[0]["channels"][0]["reach"] == "well")
    assert httpx.put(f"{at}/Ruth/channels/phone/rang", json={"rang": "yes"}, timeout=60).json() == {"stored": True}
    seen = httpx.get(at, timeout=60)
    assert seen.json()[0]["channels"][0]["rang"] == "yes"
    assert "hunter2" not in seen.text
    assert httpx.post(f"{at}/Otto/channels/phone/trial", timeout=60).status_code == 422
    assert httpx.post(f"{at}/Ruth/channels/fax/trial", timeout=60).status_code == 422
    assert httpx.put(f"{at}/Ruth/channels/phone/rang", json={"rang": "maybe"}, timeout=60).status_code == 422


def test_a_normal_rehearsal_sends_one_notice_a_turn_and_at_most_five_more(
    watched: Any, service: Any, tmp_path: Path
) -> None:
    phone = service()
    running = watched("none", (("Ruth", AppriseChannel(phone.url, JSON)),))
    running.until(lambda: running.rehearsal.keeper.progress.unloaded)
    running.stop()
    with open_records(tmp_path / "watched") as records:
        keys = records.told_keys(1000)
        tags = {f"p{sequence}": outcome.tag for sequence, outcome in records.outcomes_between("Puffin", 1, 10**9)}
    told = [tags.get(key.split("/")[1], key) for key in keys]
    turns = len(TONIGHT.plan.stages) - 1
    assert len(told) == len(set(keys))
    assert told.count("turn-due") <= turns
    assert len([tag for tag in told if tag != "turn-due"]) <= 5, told
