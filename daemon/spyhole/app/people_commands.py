"""The command `people`; see `app.commands`."""

import argparse
import getpass
import sys
from collections.abc import Callable
from pathlib import Path

Added = Callable[[str, str, str], argparse.ArgumentParser]
"""Adds a command: its name, what it does, an example."""


def add_people_commands(added: Added) -> None:
    """people, with what may be done about them."""
    parser = added(
        "people",
        "say who is told of alarms, and how",
        "spyhole people --config /etc/spyhole/spyhole.toml add Ruth\n"
        "  spyhole people --config /etc/spyhole/spyhole.toml channel Ruth phone\n"
        "  spyhole people --config /etc/spyhole/spyhole.toml test Ruth phone\n"
        "  spyhole people --config /etc/spyhole/spyhole.toml quiet Ruth 22:00 07:00",
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="settings, TOML")
    acts = parser.add_subparsers(dest="do", required=True, metavar="ACT")
    acts.add_parser("list", help="everybody, and how each channel stands")
    add = acts.add_parser("add", help="somebody more")
    add.add_argument("name", metavar="NAME")
    add.add_argument("--role", choices=("keeper", "helper"), default="keeper", help="helpers are told last (keeper)")
    acts.add_parser("remove", help="somebody less").add_argument("name", metavar="NAME")
    channel = acts.add_parser(
        "channel", help="a way to reach them: one apprise URL, or mqtt: for the broker of the settings"
    )
    channel.add_argument("name", metavar="NAME")
    channel.add_argument("channel", metavar="CHANNEL", help="what you call it: phone, mail")
    channel.add_argument("--loud", action="store_true", help="only when nobody has answered, or for want of another")
    for act, words in (
        ("drop", "a channel less"),
        ("test", "send a trial message"),
        ("rang", "whether it really rang"),
    ):
        one = acts.add_parser(act, help=words)
        one.add_argument("name", metavar="NAME")
        one.add_argument("channel", metavar="CHANNEL", nargs="?" if act == "test" else None, default="")
        if act == "rang":
            one.add_argument("rang", choices=("yes", "no"))
    quiet = acts.add_parser("quiet", help="hours in which only high alarms come, in the zone of the settings")
    quiet.add_argument("name", metavar="NAME")
    quiet.add_argument("from", metavar="FROM", help="22:00, or none")
    quiet.add_argument("to", metavar="TO", nargs="?", default="", help="07:00")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.people import people

        given = {key: value for key, value in vars(wish).items() if key not in ("run", "config", "loud")}
        if wish.do == "channel":
            given |= {"loud": "yes" if wish.loud else "no", "address": _address()}
        return people(wish.config, given)

    parser.set_defaults(run=run)


def _address() -> str:
    """Asked for, and not given on the command line, where every user of the machine could read it."""
    if sys.stdin.isatty():
        return getpass.getpass("address (not shown): ").strip()
    return sys.stdin.readline().strip()
