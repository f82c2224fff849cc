"""A Debian that boots in a container, and what is asked of it."""

import contextlib
import json
import os
import shlex
import shutil
import signal
import subprocess
import time
import traceback
from collections.abc import Callable, Iterator
from pathlib import Path
from types import TracebackType

from outside import WayOut

CHECKOUT = Path(__file__).parents[2]
PLACE = Path(os.environ.get("APPLIANCE_ROOT", "/var/tmp/spyhole-appliance"))
CERTIFICATES = "/etc/ssl/certs/ca-certificates.crt"
PACKAGES = "systemd,systemd-sysv,dbus,udev,python3,python3-venv,ca-certificates"
BOOT_SECONDS = 180
SPYHOLE = "runuser -u spyhole -- spyhole"
CONFIG = "--config /etc/spyhole/spyhole.toml"


class Outcomes:
    """One line a proof. log: where the whole story of one that broke off goes."""

    def __init__(self, log: Path) -> None:
        self.failed = False
        self._log = log

    def say(self, what: str, well: bool, seen: str = "") -> None:
        self.failed |= not well
        print(f"{'ok     ' if well else 'FAILED '} {what}{f': {seen}' if seen else ''}", flush=True)

    @contextlib.contextmanager
    def each(self, what: str) -> Iterator[None]:
        """A proof that breaks off has failed, and the next ones are tried all the same."""
        try:
            yield
        except Exception as error:  # noqa: BLE001 - whatever it is, it is said and counted
            self.say(what, False, f"broke off: {error!r}")
            with self._log.open("a") as log:
                traceback.print_exc(file=log)


class Box:
    """suite: of Debian. While open, booted; `reboot` boots it anew."""

    def __init__(self, suite: str) -> None:
        self.suite = suite
        self.root = PLACE / suite
        self.log = PLACE / f"{suite}.log"
        number = 91 if suite == "bookworm" else 92
        self.here, self.there = f"10.{number}.0.1", f"10.{number}.0.2"
        self.machine = f"spy-{suite}"
        self._container: subprocess.Popen[bytes] | None = None
        self.init = 0

    def __enter__(self) -> "Box":
        PLACE.mkdir(parents=True, exist_ok=True)
        self.log.write_text("")
        self._fresh()
        self.boot()
        self._way_out = WayOut(self.here)
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self.power_cut()
        self._let_go()

    def _let_go(self) -> None:
        """What a proof that was killed may have left, too."""
        for words in (["umount", "-q", self.root], ["ip", "link", "delete", f"ve-{self.machine}"]):
            subprocess.run(words, check=False, stderr=subprocess.DEVNULL)

    def _fresh(self) -> None:
        """A Debian that nothing was ever installed in: what is written lies over the one that all runs share."""
        pristine = PLACE / f"{self.suite}-fresh"
        if not pristine.exists():
            part = PLACE / f"{self.suite}-part"
            shutil.rmtree(part, ignore_errors=True)
            print(f"a fresh Debian ({self.suite}) is brought, once", flush=True)
            self._logged(["debootstrap", "--variant=minbase", f"--include={PACKAGES}", self.suite, part])
            part.rename(pristine)
        self._let_go()
        written, work = PLACE / f"{self.suite}-written", PLACE / f"{self.suite}-work"
        for folder in (written, work):
            if "AGAIN" not in os.environ:
                shutil.rmtree(folder, ignore_errors=True)
            folder.mkdir(exist_ok=True)
        self.root.mkdir(exist_ok=True)
        over = f"lowerdir={pristine},upperdir={written},workdir={work}"
        self._logged(["mount", "-t", "overlay", "-o", over, "spyhole", self.root])
        self.give_checkout()
        shutil.copy("/etc/resolv.conf", self.root / "etc/resolv.conf")
        # A workplace with certificates of its own hands them on.
        shutil.copy(os.environ.get("SSL_CERT_FILE", CERTIFICATES), f"{self.root}{CERTIFICATES}")

    def give_checkout(self) -> None:
        """What git knows of this checkout, as it stands."""
        there = self.root / "srv/spyhole"
        shutil.rmtree(there, ignore_errors=True)
        there.mkdir(parents=True)
        listed = subprocess.run(["git", "ls-files", "-z"], cwd=CHECKOUT, stdout=subprocess.PIPE, check=True).stdout
        for name in listed.decode().split("\0"):
            if name and (CHECKOUT / name).is_file():
                (there / name).parent.mkdir(parents=True, exist_ok=True)
                shutil.copy(CHECKOUT / name, there / name)

    def boot(self, *options: str) -> None:
        """Switch it on. options: of systemd-nspawn."""
        # What was downloaded once is not again; and a proof that is killed takes its box with it.
        kept = PLACE / "cache"
        kept.mkdir(exist_ok=True)
        command = ["setpriv", "--pdeathsig", "KILL", "systemd-nspawn", "--quiet", "-D", self.root, "--boot"]
        command += ["--register=no", "--keep-unit", f"--machine={self.machine}", "--network-veth"]
        command += [f"--bind={kept}:/root/.cache", *options]
        with self.log.open("ab") as log:
            self._container = subprocess.Popen(command, stdout=log, stderr=log, stdin=subprocess.DEVNULL,
                                               start_new_session=True)  # fmt: skip
        end = time.monotonic() + BOOT_SECONDS
        while time.monotonic() < end and self._container.poll() is None:
            time.sleep(0.5)
            if not self.init:
                self.init = self._first_process()
            elif self._wire_up() and self.inside("systemctl is-active --quiet multi-user.target")[0] == 0:
                return
        raise RuntimeError(f"it did not boot, see {self.log}")

    def _first_process(self) -> int:
        """The box's process 1, as this machine counts; 0 while it has none."""
        assert self._container is not None
        children = Path(f"/proc/{self._container.pid}/task/{self._container.pid}/children")
        with contextlib.suppress(OSError):
            for child in children.read_text().split():
                if f"\nNSpid:\t{child}\t1\n" in Path(f"/proc/{child}/status").read_text():
                    return int(child)
        return 0

    def power_cut(self) -> None:
        """Every process gone at once. What the kernel holds for the card is not lost: that needs a real cut."""
        if self._container is None:
            return
        with contextlib.suppress(ProcessLookupError):
            os.kill(self.init, signal.SIGKILL)
        try:
            self._container.wait(20)
        except subprocess.TimeoutExpired:
            self._container.kill()
            self._container.wait()
        self._container, self.init = None, 0

    def _wire_up(self) -> bool:
        """A wire between this machine and the box, and nobody else on it. Whether it is there by now."""
        own, inside = f"ve-{self.machine}", ("nsenter", "-t", str(self.init), "-n", "ip")
        return all(
            subprocess.run(words, check=False, stderr=subprocess.DEVNULL).returncode == 0
            for words in (
                ("ip", "address", "replace", f"{self.here}/24", "dev", own),
                ("ip", "link", "set", own, "up"),
                (*inside, "address", "replace", f"{self.there}/24", "dev", "host0"),
                (*inside, "link", "set", "lo", "up"),
                (*inside, "link", "set", "host0", "up"),
            )
        )

    def wire(self, state: str) -> None:
        """Plug it in (up) or pull it (down)."""
        subprocess.run(["ip", "link", "set", f"ve-{self.machine}", state], check=True)

    def _enter(self, command: str) -> list[str]:
        proxy = f"http://{self.here}:3128"
        environment = {
            "HOME": "/root",
            "LANG": "C.UTF-8",
            "PATH": "/usr/local/sbin:/usr/local/bin:/usr/sbin:/usr/bin:/sbin:/bin",
            "https_proxy": proxy,
            "http_proxy": proxy,
            "no_proxy": "127.0.0.1,localhost",
        } | dict.fromkeys(("PIP_CERT", "NODE_EXTRA_CA_CERTS", "npm_config_cafile"), CERTIFICATES)
        given = [f"{name}={value}" for name, value in environment.items()]
        ways = ["-m", "-u", "-i", "-p", "-n", "-C"]
        inner = ["sh", "-c", f"cd /srv && {command}"]
        return ["nsenter", "-t", str(self.init), *ways, "env", "-i", *given, *inner]

    def inside(self, command: str, seconds: float = 900) -> tuple[int, str]:
        """Exit code and what was said."""
        done = subprocess.run(self._enter(command), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                              check=False, timeout=seconds)  # fmt: skip
        with self.log.open("a") as log:
            log.write(f"$ {command}\n{done.stdout}[{done.returncode}]\n")
        return done.returncode, done.stdout.strip()

    def begin(self, command: str) -> subprocess.Popen[str]:
        """The same, not waited for; a group of its own, to be killed as one."""
        return subprocess.Popen(self._enter(command), stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True,
                                start_new_session=True)  # fmt: skip

    def answers(self, seconds: float = 30, port: int = 8420) -> bool:
        """Whether the page says within this time that readings come."""
        asks = f"import urllib.request; urllib.request.urlopen('http://127.0.0.1:{port}/healthz', timeout=3)"
        return until(seconds, lambda: self.inside(f'python3 -c "{asks}"')[0] == 0)

    def pid(self, unit: str = "spyhole") -> int:
        """Of its process, as this machine counts; 0 for none."""
        inner = self.inside(f"systemctl show -p MainPID --value {unit}")[1]
        if inner in ("", "0"):
            return 0
        for status in Path("/proc").glob("[0-9]*/status"):
            with contextlib.suppress(OSError):
                words = status.read_text()
                if f"\nNSpid:\t{status.parent.name}\t{inner}\n" in words:
                    return int(status.parent.name)
        return 0

    def kill(self, unit: str = "spyhole", sort: signal.Signals = signal.SIGKILL) -> None:
        """Kill its process."""
        with contextlib.suppress(ProcessLookupError):
            pid = self.pid(unit)
            if pid:
                os.kill(pid, sort)

    def version(self) -> str:
        """The one in service."""
        link = self.root / "opt/spyhole/current"
        return Path(os.readlink(link)).name if link.is_symlink() else ""

    def on_trial(self) -> bool:
        """Whether a change is not settled yet."""
        return (self.root / "opt/spyhole/trial.json").exists()

    def record(self, folder: str = "/var/lib/spyhole") -> dict[str, object]:
        """How the record stands, read by SQLite itself while the service is stopped: it is started again."""
        self.inside("systemctl stop spyhole")
        _, said = self.inside(f"runuser -u spyhole -- python3 -c {shlex.quote(READ)} {folder}")
        self.inside("systemctl start --no-block spyhole")
        found: dict[str, object] = json.loads(said.splitlines()[-1])
        return found

    def new_record(self) -> None:
        """The service begins a new one; whoever may come in still may."""
        self.inside("systemctl stop spyhole; rm -f /var/lib/spyhole/spyhole.db*; systemctl start spyhole")
        self.answers(60)

    def settings(self, *lines: str) -> None:
        """The first settings with these lines before them."""
        first = (CHECKOUT / "systemd/first.toml").read_text()
        there = self.root / "etc/spyhole/spyhole.toml"
        there.write_text("\n".join(lines) + "\n" + first)

    def trouble(self, name: str) -> None:
        """A trouble of bus and chips (`bus_faults.py`), or "" for none."""
        wish = self.root / "srv/bus"
        if name:
            wish.write_text(name)
        else:
            wish.unlink(missing_ok=True)

    def token(self) -> str:
        """A keeper's, for what is asked over the page."""
        said = self.inside(f"{SPYHOLE} access {CONFIG} token prove --role keeper")[1]
        return said.partition("shown this once:")[2].split()[0]

    def _logged(self, command: list[object]) -> None:
        with self.log.open("ab") as log:
            if subprocess.run([str(part) for part in command], stdout=log, stderr=log, check=False).returncode:
                raise SystemExit(f"{command[0]} failed, see {self.log}")


READ = """
import json, sqlite3, sys
base = sqlite3.connect(sys.argv[1] + "/spyhole.db")
one = lambda words: base.execute(words).fetchone()
first, last, rows = one(
    "SELECT min(place), max(place), count(*) FROM (SELECT place FROM reading UNION ALL SELECT place FROM journal)")
numbers = [n for n in one("SELECT " + ", ".join(
    f"min(celsius_{probe}), max(celsius_{probe})" for probe in range(1, 9)) + " FROM reading") if n is not None]
print(json.dumps({
    "sound": one("PRAGMA integrity_check(1)")[0], "tables": one("SELECT version_num FROM alembic_version")[0],
    "rows": rows, "gap": last - first + 1 - rows if rows else 0,
    "coldest": min(numbers, default=0) / 128, "hottest": max(numbers, default=0) / 128,
    "notes": [row[0] for row in base.execute("SELECT payload FROM journal WHERE instr(payload, 'proof-')")],
}))
"""
"""Rows of the journal and its readings share one sequence, so a row that is lost is a gap."""


def stands(record: dict[str, object]) -> str:
    """What a line says of a record."""
    return ", ".join(f"{name} {record[name]}" for name in ("sound", "tables", "rows", "gap"))


def memory_kib(pid: int) -> int:
    """What a process holds, what it shares with others divided among them (PSS)."""
    words = Path(f"/proc/{pid}/smaps_rollup").read_text()
    return int(words.partition("Pss:")[2].split()[0])


def until(seconds: float, holds: Callable[[], bool], every: float = 0.5) -> bool:
    """Whether it holds within this time."""
    end = time.monotonic() + seconds
    while not holds():
        if time.monotonic() > end:
            return False
        time.sleep(every)
    return True
