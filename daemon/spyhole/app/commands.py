"""The command line. Each command imports what it needs when it is called, so that help and a replay stay light.

What cannot be done is said in one sentence that names file and line, or key, and leaves with 2.
"""

import argparse
import logging
import os
import sys
from functools import partial
from pathlib import Path
from typing import TYPE_CHECKING

from spyhole.app.access_commands import add_access_commands
from spyhole.app.appliance.commands import add_appliance_commands
from spyhole.app.people_commands import add_people_commands
from spyhole.app.record_commands import add_record_commands
from spyhole.core.refusal import Refusal

EXIT_REFUSED = 2
EXIT_NOT_NOW = 75
"""Refused for what may pass, as a card that takes no writes: systemd starts a watch again after this, not after 2."""

EXIT_INTERRUPTED = 130
TROUBLE_WORDS = (
    "none", "shutoff-jams", "ring-dies", "switch-left-low", "night-switch-high", "probe-open", "probe-pulled-out",
    "power-cut", "power-cut-night",
)  # fmt: skip

CAUTION = (
    "spyhole is an aid and no safety device. It switches nothing off; silence does not mean safe. Do not leave a "
    "firing unattended because it is running."
)


def main(arguments: list[str] | None = None) -> int:
    """Run one command; returns the exit code."""
    wish = _parser().parse_args(arguments)
    logging.basicConfig(level=logging.INFO, format=_log_form(), stream=sys.stderr)
    logging.getLogger("apscheduler").setLevel(logging.WARNING)
    logging.getLogger("uvicorn").setLevel(logging.WARNING)
    logging.getLogger("alembic").setLevel(logging.WARNING)
    try:
        code: int = wish.run(wish)
    except Refusal as refusal:
        print(f"spyhole: {refusal}", file=sys.stderr)
        return EXIT_NOT_NOW if refusal.passing else EXIT_REFUSED
    except KeyboardInterrupt:
        return EXIT_INTERRUPTED
    except BrokenPipeError:
        # Somebody reads only the first lines; nothing is wrong.
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code


def _log_form() -> str:
    """The journal of systemd dates its lines itself."""
    return "%(levelname)s %(message)s" if "JOURNAL_STREAM" in os.environ else "%(asctime)s %(levelname)s %(message)s"


def _parser() -> argparse.ArgumentParser:
    parser = argparse.ArgumentParser(
        prog="spyhole", description="Watches a manual electric pottery kiln beside the potter.", epilog=CAUTION
    )
    commands = parser.add_subparsers(title="commands", required=True, metavar="COMMAND")
    _watch(commands)
    _rehearse(commands)
    _replay(commands)
    _check(commands)
    _cones(commands)
    _record(commands)
    _report(commands)
    add_record_commands(partial(_command, commands), _state_folder())
    add_people_commands(partial(_command, commands))
    add_access_commands(partial(_command, commands))
    _selftest(commands)
    add_appliance_commands(partial(_command, commands))
    return parser


if TYPE_CHECKING:
    Commands = argparse._SubParsersAction[argparse.ArgumentParser]


def _command(commands: "Commands", name: str, words: str, example: str) -> argparse.ArgumentParser:
    return commands.add_parser(
        name,
        help=words,
        description=f"{words[0].upper()}{words[1:]}.",
        epilog=f"example, in the Tern Street Clay Room:\n  {example}\n\n{CAUTION}",
        formatter_class=argparse.RawDescriptionHelpFormatter,
    )


def _watch(commands: "Commands") -> None:
    parser = _command(
        commands, "watch", "watch the kiln of a settings file", "spyhole watch --config /etc/spyhole/spyhole.toml"
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="settings, TOML")
    parser.add_argument("--port", type=_port, help="of the page, instead of the settings' own")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.memory import keep_small

        keep_small()
        from spyhole.app.watching import watch

        return watch(wish.config, wish.port)

    parser.set_defaults(run=run)


def _rehearse(commands: "Commands") -> None:
    parser = _command(
        commands,
        "rehearse",
        "run the whole product on Puffin, an emulated kiln, in fast time",
        "spyhole rehearse --speed 120 --trouble shutoff-jams --port 8420",
    )
    parser.add_argument("--speed", type=_speed, default=60.0, metavar="N", help="kiln seconds a second at most (60)")
    parser.add_argument(
        "--trouble", choices=TROUBLE_WORDS, default="none", metavar="NAME", help=", ".join(TROUBLE_WORDS)
    )
    parser.add_argument("--port", type=_port, default=8420, help="of the page (8420; 0 takes a free one)")
    parser.add_argument(
        "--data", type=Path, default=_state_folder(), metavar="DIR", help="where it is kept (%(default)s)"
    )
    parser.add_argument("--fresh", action="store_true", help="begin anew, whatever the folder holds")
    parser.add_argument(
        "--sample-seconds", type=_sample, default=5.0, metavar="S", help="kiln seconds between readings (5)"
    )
    parser.add_argument("--earlier", type=int, choices=range(4), default=3, help="firings in the kiln book before (3)")
    parser.add_argument("--lit", default="", metavar="TIME", help="when the firing is lit (yesterday evening)")
    parser.add_argument("--tell", default="", metavar="URL", help="where alarms are sent as well: one apprise URL")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.memory import keep_small

        keep_small()
        from spyhole.app.rehearsing import Wish, rehearse

        given = {name: value for name, value in vars(wish).items() if name != "run"}
        return rehearse(Wish(**given))

    parser.set_defaults(run=run)


def _replay(commands: "Commands") -> None:
    parser = _command(
        commands,
        "replay",
        "say again what the watch would say: from files, or from the record of a data folder",
        "spyhole replay friday.csv --kiln puffin.toml --plan bisque-05.toml --entries notes.csv --out said.jsonl\n"
        "  spyhole replay --journal /var/lib/spyhole --zone Europe/Dublin",
    )
    parser.add_argument("readings", type=Path, nargs="?", metavar="READINGS.csv", help="time and degC of each ring")
    parser.add_argument("--kiln", type=Path, metavar="K.toml")
    parser.add_argument("--plan", type=Path, metavar="P.toml")
    parser.add_argument("--entries", type=Path, metavar="E.csv", help="what people wrote down")
    parser.add_argument("--journal", type=Path, metavar="DIR", help="a data folder, instead of files")
    parser.add_argument("--out", type=Path, metavar="OUT.jsonl", help="else to standard output")
    parser.add_argument("--zone", default="UTC", help="time zone of the sentences (UTC)")
    parser.add_argument("--unit", choices=("degC", "degF"), default="degC", help="of the sentences (degC)")

    def run(wish: argparse.Namespace) -> int:
        from zoneinfo import ZoneInfo

        from spyhole.app.replay import Files, replay_files, replay_journal
        from spyhole.core.words import Manner

        try:
            manner = Manner(ZoneInfo(wish.zone), wish.unit)
        except (OSError, ValueError, KeyError):
            raise Refusal("--zone", f"{wish.zone!r} is no time zone", "for example Europe/Dublin") from None
        if wish.journal is not None:
            if wish.readings or wish.kiln or wish.plan or wish.entries:
                raise Refusal(
                    "--journal", "a record carries its own kiln, plan and entries", "give it alone, or files alone"
                )
            replay_journal(wish.journal, wish.out, manner)
            return 0
        if not (wish.readings and wish.kiln and wish.plan):
            raise Refusal("replay", "readings, kiln and plan are needed", "READINGS.csv --kiln K.toml --plan P.toml")
        replay_files(Files(wish.readings, wish.kiln, wish.plan, wish.entries), wish.out, manner)
        return 0

    parser.set_defaults(run=run)


def _check(commands: "Commands") -> None:
    parser = _command(
        commands,
        "check",
        "try settings, record and probes, and on request send one message",
        "spyhole check --config /etc/spyhole/spyhole.toml --message",
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="settings, TOML")
    parser.add_argument(
        "--message",
        action="store_true",
        help="send one message to each address: the settings' own, and people's channels",
    )
    parser.add_argument("--settings", action="store_true", help="only whether the settings can be read")
    parser.add_argument("--walk", action="store_true", help="go from probe to probe with you, the kiln isolated")
    parser.add_argument("--altitude", type=float, metavar="METRES", help="of the studio: where water boils")
    parser.add_argument("--sheet", type=Path, metavar="FILE", help="keep the sheet to sign, with --walk")

    def run(wish: argparse.Namespace) -> int:
        if wish.settings:
            from spyhole.app.settings import read_settings

            read_settings(wish.config)
            return 0
        from spyhole.app.checking import check, walk_through

        if wish.walk:
            return walk_through(wish.config, message=wish.message, altitude_metres=wish.altitude, sheet_file=wish.sheet)
        return check(wish.config, message=wish.message)

    parser.set_defaults(run=run)


def _selftest(commands: "Commands") -> None:
    parser = _command(
        commands,
        "selftest",
        "look whether a watch runs and is able to, and say so where somebody sees it",
        "spyhole selftest --config /etc/spyhole/spyhole.toml",
    )
    which = parser.add_mutually_exclusive_group(required=True)
    which.add_argument("--config", type=Path, metavar="FILE", help="settings of one kiln, TOML")
    which.add_argument("--all", type=Path, metavar="DIR", help="every kiln that is started with this machine")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.selftest import selftest, started_with_the_machine

        configs = [wish.config] if wish.all is None else started_with_the_machine(wish.all)
        return max([selftest(config) for config in configs], default=0)

    parser.set_defaults(run=run)


def _record(commands: "Commands") -> None:
    parser = _command(
        commands,
        "record",
        "say how the record stands, or bring its tables to this version's",
        "spyhole record check --config /etc/spyhole/spyhole.toml\n"
        "  spyhole record upgrade --config /etc/spyhole/spyhole.toml",
    )
    parser.add_argument(
        "what",
        choices=("check", "upgrade", "back"),
        help="check: is it sound; upgrade: what the watch does when it starts; back: as it was before the last upgrade",
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="settings, TOML")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app import recording

        act = {"check": recording.check, "upgrade": recording.upgrade, "back": recording.back}[wish.what]
        return act(wish.config)

    parser.set_defaults(run=run)


def _report(commands: "Commands") -> None:
    parser = _command(
        commands,
        "report",
        "put a firing on paper: a page for the board, one for a technician; or its figures in a table",
        "spyhole report latest --out friday.pdf --config /etc/spyhole/spyhole.toml\n"
        "  spyhole report 10055 --out friday.csv --data /var/lib/spyhole",
    )
    parser.add_argument("firing", metavar="latest|FIRING", help="the newest, or a number of the kiln book")
    parser.add_argument("--out", type=Path, required=True, metavar="FILE", help="ends in .pdf, .png, .csv or .json")
    parser.add_argument("--config", type=Path, metavar="FILE", help="settings, TOML: the record, tariff, zone and unit")
    parser.add_argument(
        "--data", type=Path, default=_state_folder(), metavar="DIR", help="else where the record is (%(default)s)"
    )
    parser.add_argument("--kiln", default="", metavar="NAME", help="where the record has several")
    parser.add_argument("--paper", choices=("a4", "letter"), default="a4", help="to print on (a4)")
    parser.add_argument("--zone", default="UTC", help="time zone, without settings (UTC)")
    parser.add_argument("--unit", choices=("degC", "degF"), default="degC", help="without settings (degC)")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.reporting import Wish, report
        from spyhole.services.reporting import Paper

        given = {name: value for name, value in vars(wish).items() if name not in ("run", "paper")}
        return report(Wish(**given, paper=Paper(wish.paper)))

    parser.set_defaults(run=run)


def _cones(commands: "Commands") -> None:
    parser = _command(
        commands,
        "cones",
        "say where cones go down at your climb, and what a soak does",
        "spyhole cones --climb 80\n  spyhole cones --climb 80 --cone 05 --soak 15\n"
        "  spyhole cones --climb 144 --fahrenheit --cone 6 --peak 2190 --soak 20",
    )
    parser.add_argument(
        "--climb", type=float, required=True, metavar="N", help="degrees an hour over the last 100 degC or so"
    )
    parser.add_argument("--cone", default="", metavar="NAME", help="one cone, as on the cone: 05 and 5 are two")
    parser.add_argument("--soak", type=float, metavar="MINUTES", help="held so long at the peak")
    parser.add_argument("--peak", type=float, metavar="T", help="climbed to this temperature")
    parser.add_argument("--from", dest="start", type=float, metavar="T", help="where this climb begins")
    parser.add_argument("--fahrenheit", action="store_true", help="all temperatures and climbs in degF")
    parser.add_argument("--iron-free", action="store_true", help="iron-free cones instead of ordinary ones")
    parser.add_argument("--large", action="store_true", help="large cones instead of self-supporting ones")
    parser.add_argument("--probe", default="K2", metavar="TYPE", help="type and tolerance class of your probe (K2)")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.coning import Question, answer

        print(answer(Question(**{name: value for name, value in vars(wish).items() if name != "run"})))
        return 0

    parser.set_defaults(run=run)


def _state_folder() -> Path:
    state = os.environ.get("XDG_STATE_HOME", "")
    return (Path(state) if state else Path.home() / ".local" / "state") / "spyhole" / "rehearsal"


def _port(text: str) -> int:
    return int(_within(text, 0, 65535, whole=True))


def _speed(text: str) -> float:
    return _within(text, 1, 3600)


def _sample(text: str) -> float:
    return _within(text, 1, 30)


def _within(text: str, low: int, high: int, *, whole: bool = False) -> float:
    try:
        value = int(text) if whole else float(text)
    except ValueError:
        value = low - 1
    if not low <= value <= high:
        kind = "whole number" if whole else "number"
        raise argparse.ArgumentTypeError(f"{text!r} cannot be; it is a {kind} from {low} to {high}")
    return value


if __name__ == "__main__":
    sys.exit(main())
