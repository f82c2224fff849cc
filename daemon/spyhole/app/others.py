"""Which other kilns of this machine have a page that answers: from the settings beside this kiln's own, as
`spyhole appliance kiln NAME` lays them out."""

import json
import tomllib
from collections.abc import Iterator
from pathlib import Path

from spyhole.app.settings import EVERYWHERE, LOOPBACK, PORT
from spyhole.services.others import OtherKiln

SETTINGS = "spyhole.toml"
WAIT_SECONDS = 1.0


def others_of(config: Path) -> tuple[OtherKiln, ...]:
    """Those that answer now, by name. What cannot be read, or does not run, is left out."""
    return tuple(sorted(_answering(config), key=lambda one: one.kiln))


def _answering(config: Path) -> Iterator[OtherKiln]:
    for path in _beside(config):
        try:
            told = tomllib.loads(path.read_text(encoding="utf-8"))
        except (OSError, ValueError):
            continue
        port, listen, address = told.get("port", PORT), told.get("listen", LOOPBACK), told.get("page_address", "")
        if not isinstance(port, int) or not isinstance(listen, str) or not isinstance(address, str) or port == 0:
            continue
        kiln = _kiln_at(LOOPBACK if listen == EVERYWHERE else listen, port)
        if kiln:
            yield OtherKiln(kiln, port, address if address.startswith(("http://", "https://")) else "")


def _beside(config: Path) -> list[Path]:
    """The settings of the first kiln and of those in folders beside it; not these."""
    own = config.resolve()
    found = [folder / SETTINGS for folder in (own.parent, own.parent.parent)]
    found += [path for folder in (own.parent, own.parent.parent) for path in folder.glob(f"*/{SETTINGS}")]
    return [path for path in dict.fromkeys(path.resolve() for path in found) if path != own and path.is_file()]


def _kiln_at(host: str, port: int) -> str:
    """The kiln whose page answers there; "" for none."""
    from http.client import HTTPConnection, HTTPException  # when somebody asks, which is seldom

    line = HTTPConnection(host, port, timeout=WAIT_SECONDS)
    try:
        line.request("GET", "/healthz")
        told = json.loads(line.getresponse().read(10_000))
    except (OSError, HTTPException, ValueError):
        return ""
    finally:
        line.close()
    kiln = told.get("kiln") if isinstance(told, dict) else None
    return kiln if isinstance(kiln, str) else ""
