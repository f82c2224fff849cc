"""The way to other kilns of the same machine: real pages on loopback, and settings as they lie beside each other."""

import json
import threading
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path

import pytest

from spyhole.app.others import others_of
from spyhole.services.others import OtherKiln

Page = Callable[[str], int]


@pytest.fixture(autouse=True)
def patient(monkeypatch: pytest.MonkeyPatch) -> None:
    """A page of this test answers, however busy the machine is."""
    monkeypatch.setattr("spyhole.app.others.WAIT_SECONDS", 60.0)


@pytest.fixture
def page() -> Iterator[Page]:
    """Starts a page that says, at its port, whose kiln it is."""
    running: list[ThreadingHTTPServer] = []

    def start(said: str) -> int:
        class Answer(BaseHTTPRequestHandler):
            def do_GET(self) -> None:
                self.send_response(200)
                self.end_headers()
                self.wfile.write(said.encode())

            def log_message(self, *_: object) -> None:
                """Not into the test's own output."""

        server = ThreadingHTTPServer(("127.0.0.1", 0), Answer)
        running.append(server)
        threading.Thread(target=server.serve_forever, daemon=True).start()
        return server.server_port

    yield start
    for server in running:
        server.shutdown()
        server.server_close()


def settings(folder: Path, text: str) -> Path:
    folder.mkdir(parents=True, exist_ok=True)
    (folder / "spyhole.toml").write_text(text)
    return folder / "spyhole.toml"


def healthy(kiln: str) -> str:
    return json.dumps({"kiln": kiln, "silent_seconds": 0.1})


def test_each_kiln_finds_the_others_and_not_itself(tmp_path: Path, page: Page) -> None:
    ports = [page(healthy(kiln)) for kiln in ("Puffin", "Raku", "Auk")]
    puffin = settings(tmp_path, f"port = {ports[0]}\n")
    raku = settings(tmp_path / "raku", f'port = {ports[1]}\npage_address = "https://raku.example"\n')
    settings(tmp_path / "auk", f'port = {ports[2]}\nlisten = "0.0.0.0"\n')
    assert others_of(puffin) == (OtherKiln("Auk", ports[2]), OtherKiln("Raku", ports[1], "https://raku.example"))
    assert others_of(raku) == (OtherKiln("Auk", ports[2]), OtherKiln("Puffin", ports[0]))


def test_what_does_not_answer_as_a_kiln_is_no_way_to_go(tmp_path: Path, page: Page) -> None:
    alone = settings(tmp_path, "port = 8420\n")
    settings(tmp_path / "torn", "port = = 3")
    settings(tmp_path / "free", "port = 0")
    settings(tmp_path / "odd", 'port = "here"')
    settings(tmp_path / "list", f"port = {page('[1]')}")
    settings(tmp_path / "words", f"port = {page('good day')}")
    settings(tmp_path / "away", "port = 9\n")  # discard: nobody listens there
    assert others_of(alone) == ()
