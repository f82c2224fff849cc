"""Every command that the README, DEVELOPERS.md and the handbook give is run here as it stands, or says why it is not.

They are run in one studio, in the order of a story: files as the README has them, a firing of another logger in the
book, a watch on the emulated kiln, and what is done while it runs and after. Folders that belong to a machine
(`PLACES`) stand in the studio; ports are whatever is free. What needs root, a machine that boots, a network, or
hours is in `ELSEWHERE`, with its reason, and where it is run if it is run anywhere.
"""

import os
import re
import shlex
import shutil
import signal
import subprocess
import sys
import threading
from collections.abc import Iterator
from contextlib import chdir, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from http.server import BaseHTTPRequestHandler, ThreadingHTTPServer
from io import StringIO
from pathlib import Path
from unittest import mock

import pytest

from spyhole.app.commands import main

ROOT = Path(__file__).parents[2]
DOCUMENTS = (ROOT / "README.md", ROOT / "DEVELOPERS.md", *sorted((ROOT / "web/spyhole_web/handbook").glob("*.md")))
README = (ROOT / "README.md").read_text()

pytestmark = pytest.mark.timeout(600)

WORDS = ("sudo", "make", "spyhole", ".venv/bin/spyhole", "systemctl", "journalctl", "python", "python3", "pip")
"""What a line begins with that is meant to be typed."""


AS_WHOM = "sudo -u spyhole"


def typed(text: str) -> set[str]:
    """The commands of a document: lines set apart, and what is whole in backticks. Without remarks and `sudo -u`."""
    apart = [line.split("  #")[0].strip() for line in re.findall(r"^ {4,}(\S.*)$", text, re.MULTILINE)]
    full = re.compile(r" --\w|^(sudo|make|\w+ctl) ")
    inline = [line for line in re.findall(r"`([^`\n]+)`", text) if full.search(line)]
    lines = [line.removeprefix("sudo -u spyhole ").removeprefix(".venv/bin/") for line in (*apart, *inline)]
    named = re.compile(r"(?<![\w-])[A-Z]{4,}(?![\w=])")  # NAME stands for something
    return {line for line in lines if line.count(" ") and line.split()[0] in WORDS and not named.search(line)} - {
        AS_WHOM
    }


TYPED = {line: document.name for document in reversed(DOCUMENTS) for line in sorted(typed(document.read_text()))}

APPLIANCE = "tests/appliance/installing.py"
ROOTED = "it needs root on a machine that boots: make appliance"
STARTED = "spyhole rehearse --data var/rehearsal --fresh --trouble shutoff-jams"
AS_THAT = "the same command as the one that is run, with another trouble, speed or port"
TROUBLES = "tests/scenarios/test_002_troubles.py"

ELSEWHERE: dict[str, tuple[str, str]] = {
    "make run": ("it brings what is missing from the network, and never ends; what it starts is run here", ""),
    "make test": ("it is what runs this", ""),
    "make lint": ("the same continuous integration runs it, and it looks at the whole tree", ".ci/run"),
    "make bench": ("it takes the machine for itself for most of an hour", ""),
    "make prove": ("it takes hours; a part of it is in every run", "tests/proving/test_proving.py"),
    "make fuzz": ("it takes twenty minutes; a part of it is in every run", "tests/web/test_fuzz.py"),
    "make format": ("it would change the files that are being tried", ""),
    "make locks": ("it asks the network, and would change the locks", ""),
    "make supply": ("it asks the network", ""),
    "make appliance": ("it needs root, the network and most of an hour", ""),
    "sudo systemd/install": (ROOTED, APPLIANCE),
    "sudo systemd/install --apply-boot": (ROOTED, APPLIANCE),
    "sudo env PYTHONPATH=spyhole-0.1.0-py3-none-any.whl python3 -m spyhole.app.appliance install": (ROOTED, APPLIANCE),
    "sudo spyhole appliance kiln raku": (ROOTED, APPLIANCE),
    "sudo spyhole appliance uninstall": (ROOTED, APPLIANCE),
    "sudo spyhole appliance uninstall --purge": (ROOTED, APPLIANCE),
    "sudo nano /etc/spyhole/spyhole.toml": ("it is an editor, and somebody has to type in it", ""),
    "sudo systemctl stop spyhole": (ROOTED, APPLIANCE),
    "sudo systemctl start spyhole": (ROOTED, APPLIANCE),
    "sudo systemctl restart spyhole": (ROOTED, ""),
    "sudo systemctl disable --now spyhole@raku": (ROOTED, "tests/appliance/faults.py"),
    "systemctl status spyhole": (ROOTED, ""),
    "journalctl -u spyhole -f": (ROOTED, ""),
    "journalctl -u spyhole -n 50": (ROOTED, ""),
    "journalctl -u spyhole-settle": (ROOTED, ""),
    "spyhole check --config /etc/spyhole/spyhole.toml --walk": (
        "somebody has to hold the probes; there its pauses are taken out", "tests/app/test_walking.py",
    ),
    "spyhole check --config /etc/spyhole/spyhole.toml --walk --altitude 35 --message --sheet /tmp/sheet.txt": (
        "somebody has to hold the probes; there its pauses are taken out", "tests/app/test_walking.py",
    ),
    "spyhole check --walk": ("a name for the line above, without its file", "tests/app/test_walking.py"),
    "spyhole rehearse --data var/rehearsal --fresh": (AS_THAT, ""),
    "spyhole rehearse --speed 120 --trouble shutoff-jams --port 8420": (AS_THAT, ""),
    **{
        f"spyhole rehearse --fresh --trouble {trouble}": (AS_THAT, TROUBLES)
        for trouble in re.findall(r"rehearse --fresh --trouble ([\w-]+)", (DOCUMENTS[2]).read_text())
    },
}  # fmt: skip
"""Command, why it is not run here, and the file that runs it or most of it ("" for none)."""

PLACES = {
    "/etc/spyhole/spyhole.toml": "spyhole.toml",
    "/var/lib/spyhole": "restored",
    "/media/stick/": "stick/",
    "DIR": "record",
}

SAYS = {
    "people": "Ruth",
    "selftest": "Puffin",
    "record": "sound|version|as it was before",
    "cones": "degC|degF|cone",
    "access": "/door#code=|token|sph|[A-Za-z0-9]{6}",
    "import": "instants",
    "check": "ok       probes",
}
"""What has to be in the answer, beside an exit code of 0: a command that says nothing is not done."""

ADDRESS_OF_THE_PHONE = "json://127.0.0.1:{port}/phone"


@dataclass
class Studio:
    """A folder, a phone that takes every message, and what each command answered."""

    folder: Path
    said: dict[str, tuple[int, str]] = field(default_factory=dict)
    address: str = ""
    done: dict[tuple[str, ...], str] = field(default_factory=dict)

    def run(self, line: str, known_as: str = "") -> None:
        """As it stands but for its places."""
        words = shlex.split(line, comments=True)
        words = [self._here(word) for word in words]
        if (before := self.done.get(tuple(words))) is not None:  # one document says where the file is, another does not
            self.said[line] = self.said[before]
            return
        self.done[tuple(words)] = known_as or line
        said, typed_in = StringIO(), StringIO(f"{self.address}\n")
        with (
            chdir(self.folder),
            redirect_stdout(said),
            redirect_stderr(said),
            mock.patch.object(sys, "stdin", typed_in),
        ):
            code = main(words[1:])
        self.said[known_as or line] = code, said.getvalue()

    def _here(self, word: str) -> str:
        for place, here in PLACES.items():
            word = word.replace(place, here)
        if word.startswith("record-2031-"):
            return str(max((self.folder / "record/backups").glob("record-*.zip")))
        if word == "restored" and (self.folder / "restored").exists():
            shutil.rmtree(self.folder / "restored")
        return word

    def start(self, *words: str, until: str) -> subprocess.Popen[str]:
        process = subprocess.Popen(
            [sys.executable, "-m", "spyhole.app.commands", *words], cwd=self.folder, text=True,
            stdout=subprocess.PIPE, stderr=subprocess.STDOUT, env={**os.environ, "PYTHONUNBUFFERED": "1"},
        )  # fmt: skip
        assert process.stdout is not None
        seen = ""
        for line in process.stdout:
            seen += line
            if until in line:
                return process
        raise AssertionError(f"{words} ended before it said {until!r}: {seen}")


def stop(process: subprocess.Popen[str]) -> tuple[int, str]:
    """Ctrl-C; what it says at the end."""
    process.send_signal(signal.SIGINT)
    said, _ = process.communicate(timeout=100)
    return process.returncode, said


def old_log() -> str:
    """Six hours up and two down, of another logger."""
    lines = ["Time,bottom,middle,top"]
    for n in range(480):
        celsius = 20 + min(n, 360) * 2.5 - max(0, n - 360) * 2.5
        stamp = datetime(2024, 10, 30, 19, 41, tzinfo=UTC) + timedelta(minutes=n)
        lines.append(f"{stamp:%Y-%m-%d %H:%M:%S},{celsius},{celsius + 1},{celsius + 2}")
    return "\n".join(lines) + "\n"


class Phone(BaseHTTPRequestHandler):
    def do_POST(self) -> None:
        self.rfile.read(int(self.headers["Content-Length"]))
        self.send_response(200)
        self.end_headers()

    def log_message(self, *_: object) -> None:
        pass


@pytest.fixture(scope="module")
def phone() -> Iterator[int]:
    server = ThreadingHTTPServer(("127.0.0.1", 0), Phone)
    thread = threading.Thread(target=server.serve_forever)
    thread.start()
    yield server.server_address[1]
    server.shutdown()
    thread.join()
    server.server_close()


def furnished(folder: Path, port: int) -> None:
    """The files that the documents speak of."""
    for name, text in re.findall(r"^```toml\n# (\S+)\n(.*?)^```", README, re.DOTALL | re.MULTILINE):
        (folder / name).write_text(text)
    for name in ("bisque.toml", "bisque-05.toml"):
        shutil.copy(folder / "bisque-06.toml", folder / name)
    (folder / "spyhole.toml").write_text(
        'kiln = "puffin.toml"\nplan = "bisque-06.toml"\ndata = "record"\ndriver = "emulated"\nmains_hertz = 50\n'
        f'port = 0\ntell = "json://127.0.0.1:{port}/kiln"\n'
    )
    (folder / "old.csv").write_text(old_log())
    (folder / "friday.csv").write_text("time,bottom,middle,top\n2031-10-30T19:41:39Z,15,15,15\n")
    (folder / "notes.csv").write_text("time,kind,subject,value\n2031-10-30T19:41:11Z,start,,06\n")
    (folder / "stick").mkdir()


BEFORE = ("cones", "check")
WATCHED = ("people", "access", "report", "backup", "export", "selftest")
AFTER = ("record", "restore", "import", "replay")


def lines_of(commands: tuple[str, ...]) -> list[str]:
    """Those lines of the documents that are run here, in the order of the commands and then of the documents."""
    order = [line for document in DOCUMENTS for line in _in_order(document.read_text())]
    here = dict.fromkeys(line for line in order if line in TYPED and line not in ELSEWHERE)
    return [line for command in commands for line in here if line.split()[:2] == ["spyhole", command]]


def _in_order(text: str) -> list[str]:
    found = typed(text)
    return sorted(found, key=text.index)


@pytest.fixture(scope="module")
def studio(tmp_path_factory: pytest.TempPathFactory, phone: int) -> Studio:
    """The whole story, once."""
    made = Studio(tmp_path_factory.mktemp("studio"), address=ADDRESS_OF_THE_PHONE.format(port=phone))
    furnished(made.folder, phone)
    for line in lines_of(BEFORE):
        made.run(line)
    bring = next(line for line in lines_of(("import",)) if "bisque-06" in line)
    made.run(f"{bring.removesuffix(' --preview')} --data record", known_as="a firing is brought")
    for line in lines_of(("watch",)):
        watch = made.start("watch", "--config", "spyhole.toml", until="the page is http://localhost:")
        if line == lines_of(("watch",))[0]:
            for each in lines_of(WATCHED):
                made.run(each)
                for out in made.folder.glob("firings.zip"):
                    out.unlink()
        made.said[line] = stop(watch)
    # as an upgrade of its tables leaves it: tests/store/test_before.py makes a real one
    shutil.copy(made.folder / "record/spyhole.db", made.folder / "record/spyhole.db.before-upgrade")
    for line in lines_of(AFTER):
        made.run(line)
    rehearsal = made.start(
        *shlex.split(STARTED)[1:], "--port", "0", "--earlier", "0", until="at work: http://localhost:"
    )
    made.said[STARTED] = stop(rehearsal)
    return made


def test_commands_are_found_in_the_documents() -> None:
    assert {"make test", "spyhole watch --config spyhole.toml", "systemctl status spyhole", STARTED} <= set(TYPED)
    assert "spyhole cones --climb 80 --cone 05 --soak 15" in TYPED


@pytest.mark.parametrize("line", TYPED)
def test_a_command_of_the_documents_is_run_or_says_why_not(line: str, studio: Studio) -> None:
    if line in ELSEWHERE:
        assert line not in studio.said
        return
    assert line in studio.said, f"{TYPED[line]} has it; run it here, or say in ELSEWHERE why not"
    code, said = studio.said[line]
    assert code == 0, said
    assert "Traceback" not in said
    command = line.split()[1]
    if command in SAYS:
        assert re.search(SAYS[command], said), said


@pytest.mark.parametrize("line", ELSEWHERE)
def test_what_is_not_run_is_still_in_a_document_and_is_run_where_it_is_said(line: str) -> None:
    reason, where = ELSEWHERE[line]
    assert line in TYPED, "no document has it any more"
    assert reason
    if where.startswith("tests/appliance"):
        words = line.removeprefix("sudo ").replace("spyhole-0.1.0-py3-none-any.whl", "{wheel}")
        assert words in (ROOT / where).read_text()
    elif where.startswith("tests/scenarios") or "--walk" in line:
        assert ("--walk" if "--walk" in line else line.rsplit(maxsplit=1)[-1]) in (ROOT / where).read_text()
    elif where:
        assert (ROOT / where).is_file()


@pytest.mark.parametrize("line", [line for line in TYPED if line.startswith("make ")])
def test_a_make_target_knows_what_it_would_run(line: str) -> None:
    done = subprocess.run(
        ["make", "--dry-run", *line.split()[1:2]], cwd=ROOT, check=False, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    assert done.stdout.strip()


def test_what_they_were_to_leave_behind_is_there(studio: Studio) -> None:
    assert studio.said["a firing is brought"][0] == 0, studio.said["a firing is brought"][1]
    assert (studio.folder / "friday.pdf").read_bytes().startswith(b"%PDF")
    assert (studio.folder / "said.jsonl").is_file()
    assert (studio.folder / "stick/puffin.zip").stat().st_size > 1000
    assert (studio.folder / "restored/spyhole.db").is_file()
