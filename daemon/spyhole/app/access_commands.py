"""The words of `spyhole access`."""

import argparse
from collections.abc import Callable
from pathlib import Path


def add_access_commands(command: Callable[[str, str, str], argparse.ArgumentParser]) -> None:
    """command: makes a parser of a name, its words and an example."""
    parser = command(
        "access", "say who may open the page, and let somebody in", "spyhole access --config spyhole.toml code"
    )
    parser.add_argument("--config", type=Path, required=True, metavar="FILE", help="settings, TOML")
    acts = parser.add_subparsers(title="acts", required=True, metavar="ACT", dest="do")
    acts.add_parser("list", help="everything that lets anybody in")
    code = acts.add_parser("code", help="a code and its square, to let one device in as a keeper, once")
    code.add_argument("name", nargs="?", default="", metavar="NAME", help="whose device it will be")
    token = acts.add_parser("token", help="a token, for a program")
    token.add_argument("name", metavar="NAME", help="what it is for")
    token.add_argument("--role", choices=("keeper", "guest"), default="guest", help="whether it may change anything")
    guests = acts.add_parser("class", help="a code and its square, for guests who only look")
    guests.add_argument("name", metavar="NAME", help="what it is for")
    guests.add_argument("--days", default="7", metavar="N", help="how long (7)")
    acts.add_parser("revoke", help="take one back").add_argument("name", metavar="ID", help="as in the list")

    def run(wish: argparse.Namespace) -> int:
        from spyhole.app.access import access

        given = {"do": wish.do, "name": getattr(wish, "name", ""), "role": getattr(wish, "role", "")}
        return access(wish.config, given | {"days": getattr(wish, "days", "")})

    parser.set_defaults(run=run)
