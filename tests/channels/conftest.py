"""Real receivers on loopback: a mosquitto, a subscriber beside ours, a mail server, a web service."""

import json
import os
import queue
import runpy
import socket
import subprocess
import threading
import time
from collections.abc import Callable, Iterator
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any

import paho.mqtt.client as paho
import pytest

MOSQUITTO = "/usr/sbin/mosquitto"
free_port: Callable[[], int] = runpy.run_path(str(Path(__file__).parents[1] / "ports.py"))["free_port"]


def until(so: Callable[[], object], seconds: float = 150.0) -> None:
    deadline = time.monotonic() + seconds
    while not so():
        assert time.monotonic() < deadline, f"still not so after {seconds:g} s"
        time.sleep(0.02)


class Mosquitto:
    """The broker itself, on a free port, for whoever comes; or with one user, for a password."""

    def __init__(self, folder: Path, user: str = "") -> None:
        self.port = free_port()
        lines = [f"listener {self.port} 127.0.0.1", f"allow_anonymous {'false' if user else 'true'}"]
        if user:
            words = folder / "passwords"
            subprocess.run(["mosquitto_passwd", "-b", "-c", words, user, "right"], check=True)
            lines.append(f"password_file {words}")
            if os.geteuid() == 0:
                lines.append("user root")  # else it becomes another, who cannot read this folder
        self.config = folder / f"mosquitto-{self.port}.conf"
        self.config.write_text("\n".join([*lines, ""]))
        self.process: subprocess.Popen[bytes] | None = None
        self.start()

    def start(self) -> None:
        self.process = subprocess.Popen([MOSQUITTO, "-c", self.config], stderr=subprocess.DEVNULL)

        def listens() -> bool:
            with socket.socket() as caller:
                return caller.connect_ex(("127.0.0.1", self.port)) == 0

        until(listens)

    def stop(self) -> None:
        if self.process is not None:
            self.process.terminate()
            self.process.wait(60)
            self.process = None


class Subscriber:
    """Somebody else's client, who listens to everything."""

    def __init__(self, port: int) -> None:
        self.heard: list[tuple[str, str, bool]] = []
        self.client = paho.Client(paho.CallbackAPIVersion.VERSION2)
        self.client.on_message = self._hear
        self.client.on_connect = lambda client, *_: client.subscribe("#", qos=1)
        listens = threading.Event()  # what is not retained is for whoever listens by then
        self.client.on_subscribe = lambda *_: listens.set()
        self.client.connect("127.0.0.1", port)
        self.client.loop_start()
        assert listens.wait(150)

    def _hear(self, _client: object, _data: object, message: Any) -> None:
        self.heard.append((message.topic, message.payload.decode(), message.retain))

    def last(self, topic: str) -> str | None:
        return next((said for where, said, _ in reversed(self.heard) if where == topic), None)

    def close(self) -> None:
        self.client.disconnect()
        self.client.loop_stop()


@pytest.fixture
def mosquitto(tmp_path: Path) -> Iterator[Callable[..., Mosquitto]]:
    made: list[Mosquitto] = []

    def make(**more: Any) -> Mosquitto:
        made.append(Mosquitto(tmp_path, **more))
        return made[-1]

    yield make
    for one in made:
        one.stop()


@pytest.fixture
def subscriber() -> Iterator[Callable[[int], Subscriber]]:
    made: list[Subscriber] = []

    def make(port: int) -> Subscriber:
        made.append(Subscriber(port))
        return made[-1]

    yield make
    for one in made:
        one.close()


class WebService:
    """Takes messages and beats. status: what it answers; hangs: until let go."""

    def __init__(self) -> None:
        self.status = 200
        self.hangs = False
        self.let_go = threading.Event()
        self.asked: queue.SimpleQueue[str] = queue.SimpleQueue()
        self.times: list[float] = []
        self.taken: list[dict[str, Any]] = []
        service = self

        class Handler(BaseHTTPRequestHandler):
            def _answer(self) -> None:
                body = self.rfile.read(int(self.headers.get("Content-Length") or 0))
                service.times.append(time.monotonic())
                service.asked.put(f"{self.command} {self.path}")
                if service.hangs:
                    service.let_go.wait(90)
                if service.status == 200 and body:
                    service.taken.append(json.loads(body))
                self.send_response(service.status)
                self.send_header("Content-Length", "0")
                self.end_headers()

            do_GET = do_POST = _answer  # noqa: N815

            def log_message(self, *_: object) -> None:
                """Quiet."""

        self.server = ThreadingHTTPServer(("127.0.0.1", 0), Handler)
        self.thread = threading.Thread(target=self.server.serve_forever, args=(0.05,))
        self.thread.start()
        self.port: int = self.server.server_port

    def close(self) -> None:
        self.let_go.set()
        self.server.shutdown()
        self.server.server_close()
        self.thread.join()


@pytest.fixture
def web() -> Iterator[WebService]:
    opened = WebService()
    yield opened
    opened.close()


@pytest.fixture
def wait() -> Callable[..., None]:
    return until
