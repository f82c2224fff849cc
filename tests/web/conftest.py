"""The whole daemon on Puffin, as a process of its own, and a real browser that looks at it."""

import json
import os
import runpy
import shutil
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import httpx
import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect, sync_playwright

from spyhole.core.forms.kiln_toml import kiln_to_toml
from spyhole.core.forms.plan_toml import plan_to_toml
from spyhole_hardware.emulated.puffin import KILN, TONIGHT

free_port: Callable[[], int] = runpy.run_path(str(Path(__file__).parents[1] / "ports.py"))["free_port"]

CHROMIUM_FLAGS = [
    "--disable-gpu",
    "--disable-quic",
    "--no-first-run",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--disable-dev-shm-usage",
    "--autoplay-policy=user-gesture-required",
]
PATIENCE_SECONDS = 150.0
"""For a process to begin, or for something of the real world; nothing waits longer than it takes."""
SEEDING_SECONDS = 900.0
"""For a whole firing in fast time, on a machine that has other things to do."""


class Daemon:
    """`spyhole rehearse` (or watch) on one port and one folder: started, killed, started again."""

    def __init__(self, data: Path, *options: str) -> None:
        self.data = data
        self.port = free_port()
        self.words = ["rehearse", "--data", str(data), "--port", str(self.port), *options]
        self.url = f"http://localhost:{self.port}"
        self.process: subprocess.Popen[bytes] | None = None

    def start(self, seconds: float = PATIENCE_SECONDS) -> None:
        command = [str(Path(sys.executable).parent / "spyhole"), *self.words]
        log = (self.data.parent / f"{self.port}.log").open("ab")
        with log:
            self.process = subprocess.Popen(command, stdout=log, stderr=log, stdin=subprocess.DEVNULL)
        self.until(lambda: self.get("/healthz").status_code == 200, seconds)
        self.until(self.has_read, seconds)

    def get(self, path: str) -> httpx.Response:
        return httpx.get(self.url + path, timeout=PATIENCE_SECONDS)

    def post(self, path: str, body: object) -> httpx.Response:
        return httpx.post(self.url + path, json=body, timeout=PATIENCE_SECONDS)

    def now(self) -> dict[str, object]:
        seen: dict[str, object] = self.get("/api/now").json()
        return seen

    def has_read(self) -> bool:
        """Whether the record is: on a busy machine the page answers sooner. A shut door hides that."""
        seen = self.get("/api/now")
        return seen.status_code == 401 or seen.json()["sequence"] > 0

    def entry(self, words: str) -> dict[str, object]:
        """The newest entry that says this: whoever fires the emulated kiln writes others at any moment."""
        entries = self.now()["entries"]
        assert isinstance(entries, list)
        found: dict[str, object] = next(each for each in entries if each["words"] == words)
        return found

    def until(self, holds: Callable[[], bool], seconds: float = PATIENCE_SECONDS) -> None:
        """Wait for something of the real world; red when it never comes."""
        end = time.monotonic() + seconds
        while time.monotonic() < end:
            assert self.process is None or self.process.poll() is None, f"the daemon has ended: see {self.data.parent}"
            try:
                if holds():
                    return
            except httpx.TransportError:
                pass
            time.sleep(0.05)
        raise AssertionError(f"it never came true within {seconds} s")

    def end(self, sign: signal.Signals = signal.SIGTERM) -> float:
        """End it; returns how many seconds that took."""
        began = time.monotonic()
        if self.process is not None:
            if self.process.poll() is None:
                self.process.send_signal(sign)
            self.process.wait(PATIENCE_SECONDS)
            self.process = None
        return time.monotonic() - began


@pytest.fixture(scope="session")
def evening(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with one earlier firing in the kiln book and tonight's well under way, about to be turned to high."""
    data = tmp_path_factory.mktemp("evening") / "puffin"
    daemon = Daemon(data, "--earlier", "1", "--speed", "1")
    daemon.start(SEEDING_SECONDS)
    daemon.end()
    return data


@pytest.fixture(scope="module")
def daemon(evening: Path, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Daemon]:
    """One for all tests of a file: they may not rely on what another left."""
    data = tmp_path_factory.mktemp("daemon") / "puffin"
    shutil.copytree(evening, data)
    # As many readings a second as at 20 and 5 s, and the evening is not over before a slow machine has looked at it.
    running = Daemon(data, "--speed", "4", "--sample-seconds", "1")
    running.start()
    yield running
    running.end()


@pytest.fixture
def another(evening: Path, tmp_path: Path) -> Iterator[Callable[..., Daemon]]:
    """Starts one more from the same evening, with options of its own."""
    running: list[Daemon] = []

    def start(*options: str) -> Daemon:
        data = tmp_path / f"puffin{len(running)}"
        shutil.copytree(evening, data)
        running.append(Daemon(data, *options))
        running[-1].start()
        return running[-1]

    yield start
    for each in running:
        each.end()


@pytest.fixture
def own_daemon(another: Callable[..., Daemon]) -> Daemon:
    """One for this test alone, to be hurt."""
    return another("--speed", "20")


@pytest.fixture
def cold_kiln(tmp_path: Path) -> Iterator[Daemon]:
    """`spyhole watch` on a cold emulated kiln that nobody has lit."""
    running = Daemon(tmp_path / "data")
    (tmp_path / "data").mkdir()
    (tmp_path / "puffin.toml").write_text(kiln_to_toml(KILN))
    (tmp_path / "plan.toml").write_text(plan_to_toml(TONIGHT.plan, KILN))
    settings = tmp_path / "spyhole.toml"
    settings.write_text(
        f"""kiln = "puffin.toml"
plan = "plan.toml"
data = "data"
driver = "emulated"
mains_hertz = 50
averaging = 4
sample_seconds = 1
port = {running.port}
zone = "Etc/UTC"
unit = "degC"
"""
    )
    running.words = ["watch", "--config", str(settings)]
    running.start()
    yield running
    running.end()


@pytest.fixture(scope="session")
def browser() -> Iterator[Browser]:
    found = shutil.which("chromium")
    assert found, "the page is tested in Debian's Chromium: sudo apt-get install chromium"
    expect.set_options(timeout=60_000)  # for what is to come; a machine may have other things to do
    with sync_playwright() as playwright:
        opened = playwright.chromium.launch(
            executable_path=found, args=CHROMIUM_FLAGS, chromium_sandbox=os.geteuid() != 0
        )
        yield opened
        opened.close()


class Looker:
    """Opens the page as somebody with this screen would, and keeps what the browser complained about."""

    def __init__(self, browser: Browser) -> None:
        self.browser = browser
        self.contexts: list[BrowserContext] = []
        self.complaints: list[str] = []

    def look(
        self,
        daemon: Daemon,
        width: int = 390,
        height: int = 844,
        scheme: str = "light",
        path: str = "/",
        shows: str = ".band",
    ) -> Page:
        context = self.browser.new_context(
            viewport={"width": width, "height": height},
            color_scheme="dark" if scheme == "dark" else "light",
            reduced_motion="reduce",
            locale="en-GB",
            timezone_id="Pacific/Auckland",  # not the studio's: the page must use the studio's zone, not the phone's
        )
        self.contexts.append(context)
        page = context.new_page()
        page.set_default_timeout(120_000)
        page.on("pageerror", lambda error: self.complaints.append(str(error)))
        page.on("console", lambda said: self.complaints.append(said.text) if said.type == "error" else None)
        page.goto(daemon.url + path)
        page.wait_for_selector(shows)
        return page

    def told(self, daemon: Daemon, change: Callable[[dict[str, Any]], None], **screen: Any) -> Page:
        """The page, told something else than what is so."""
        now = daemon.now()
        change(now)
        page = self.look(daemon, **screen)
        words = f"retry: 60000\n\nevent: now\ndata: {json.dumps(now)}\n\n"
        page.route("**/api/live", lambda asked: asked.fulfill(status=200, content_type="text/event-stream", body=words))
        page.reload()
        page.wait_for_selector(".band")
        return page

    @staticmethod
    def down_to(page: Page, room: str) -> None:
        """Scrolls there, and again while what loads above pushes it away, until what comes when it is seen is there."""
        page.wait_for_function(
            """room => { const there = document.getElementById(room); there.scrollIntoView();
            return there.querySelector("button, a"); }""",
            arg=room,
        )


@pytest.fixture
def looker(browser: Browser) -> Iterator[Looker]:
    made = Looker(browser)
    yield made
    for context in made.contexts:
        context.close()


@pytest.fixture
def axe() -> Callable[[Page], list[object]]:
    """axe-core (npm) with the rules of WCAG 2.2 AA, contrast among them: what it finds wrong with this page."""
    script = (Path(__file__).parents[2] / "web" / "node_modules" / "axe-core" / "axe.min.js").read_text()
    tags = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]

    def look(page: Page) -> list[object]:
        page.evaluate(script)
        found = page.evaluate("tags => axe.run(document, {runOnly: tags})", tags)
        return [(each["id"], [node["html"][:120] for node in each["nodes"]]) for each in found["violations"]]

    return look
