"""The words of `spyhole appliance`, which the machine's own python3 understands too."""

import argparse
from collections.abc import Callable
from pathlib import Path

from spyhole.app.appliance.boot import CLOCK_MODULES

EXAMPLE = "sudo spyhole appliance install spyhole-0.1.0-py3-none-any.whl"


def add_appliance_commands(command: Callable[[str, str, str], argparse.ArgumentParser]) -> None:
    """command: makes a parser of a name, its words and an example."""
    parser = command("appliance", "put spyhole into service on this machine, upgrade it, take it away", EXAMPLE)
    fill(parser)


def fill(parser: argparse.ArgumentParser) -> None:
    """The acts, and what they do."""
    acts = parser.add_subparsers(title="acts", required=True, metavar="ACT", dest="act")
    add = acts.add_parser("install", help="into service, or a newer version in the place of the one that is")
    add.add_argument("source", type=Path, nargs="?", metavar="WHEEL", help="a wheel; else what this was started from")
    add.add_argument("--apply-boot", action="store_true", help="change the Pi's boot file as shown, and keep a copy")
    add.add_argument(
        "--clock-module", default="", metavar="NAME", help=f"a clock on the Pi: {', '.join(CLOCK_MODULES)}"
    )
    add.add_argument("--now", action="store_true", help="also while a firing is on")
    kiln = acts.add_parser("kiln", help="a further kiln on this machine, with a service of its own")
    kiln.add_argument("name", metavar="NAME", help="of the service: small letters, digits and dashes")
    acts.add_parser("settle", help="end a change that is on trial; the machine does it by itself")
    gone = acts.add_parser("uninstall", help="take the service away; settings and record stay")
    gone.add_argument("--purge", action="store_true", help="settings, record and backups too")
    gone.add_argument("--yes", action="store_true", help="do not ask")
    parser.set_defaults(run=do)


def do(wish: argparse.Namespace) -> int:
    """One act. Refusal."""
    from spyhole.app.appliance import install, remove, settle, source
    from spyhole.app.appliance.house import House, alone, need_root

    house = House()
    if wish.act == "install":
        place = source.source_here() if wish.source is None else source.source_of(wish.source)
        return install.install(place, house, install.Wish(wish.now, wish.apply_boot, wish.clock_module))
    if wish.act == "kiln":
        return install.add_kiln(wish.name, house)
    if wish.act == "settle":
        need_root()
        with alone(house, wait=True):
            return settle.settle(house)
    return remove.uninstall(house, purge=wish.purge, yes=wish.yes)
