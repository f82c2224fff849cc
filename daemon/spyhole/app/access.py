"""`spyhole access`: who may open the page. Done by the daemon where one runs, else in the file of keys itself."""

import io
import re
import socket
import time
from collections.abc import Callable
from pathlib import Path
from urllib.parse import urlsplit

from spyhole.app.clock import MachineClock
from spyhole.app.hatch import Given, ask
from spyhole.app.keyring import Argon, KeyFile
from spyhole.app.settings import EVERYWHERE, LOOPBACK, Settings, read_settings
from spyhole.core.access import Role, spoken_code, way_in
from spyhole.core.refusal import Refusal
from spyhole.services.access import CODE_MINUTES, FIRST_CODE_HOURS, Access

ACT = "access"


def access(config: Path, given: Given) -> int:
    """Do it and print what came of it. Refusal."""
    settings = read_settings(config)
    said = ask(settings.data, ACT, given)
    print(_alone(settings, given) if said is None else said)
    return 0


def access_in(
    folder: Path, *, welcome: Callable[[str], object] = lambda name: None, open_house: bool = False
) -> Access:
    """The keys of a data folder, on the machine's own clock: people come in, whatever time a rehearsal has."""
    now = MachineClock().now
    return Access(
        KeyFile(folder), Argon(), lambda: now().utc_ms, lambda: now().monotonic_ms,
        welcome=welcome, open_house=open_house,
    )  # fmt: skip


def do(keys: Access, address: str, given: Given) -> str:
    """One act, by its words; what came of it, for a person. Refusal."""
    act, name = given["do"], given.get("name", "")
    if act == "code":
        made = keys.first_code()
        lasts = f"{FIRST_CODE_HOURS} hours"
        if made is None:
            made, lasts = keys.code(Role.KEEPER, name, "asked for on the machine").words, f"{CODE_MINUTES} minutes"
        return invitation(address, made, f"It lets one device in as a keeper, once, within {lasts}.")
    if act == "token":
        made = keys.token(name, Role(given["role"])).words
        return f"The token of {name}, {given['role']}, shown this once:\n  {made}\nSend it as `Authorization: Bearer`."
    if act == "class":
        made = keys.class_code(name, int(given["days"])).words
        return invitation(address, made, f"It lets guests look, as many as like, for {given['days']} days.")
    if act == "revoke":
        keys.revoke(name)
        return "It lets nobody in any more."
    return shown(keys)


def invitation(address: str, code: str, words: str) -> str:
    """The way in: address, code and square."""
    where = way_in(address, code)
    return f"{words}\n  {where}\n  or open {address}/door and type {spoken_code(code)}\n{square(where)}"


def square(text: str) -> str:
    """The square code of a text, for a terminal."""
    import segno

    drawn = io.StringIO()
    segno.make(text, error="m", micro=False).terminal(drawn, compact=True)
    return drawn.getvalue()


def rows_of(text: str) -> list[str]:
    """The same for a page: rows of 0 and 1."""
    import segno

    return ["".join(str(dot) for dot in row) for row in segno.make(text, error="m", micro=False).matrix]


def cookie_of(kiln: str) -> str:
    """Browsers tell hosts apart and not ports, so each kiln has a name of its own."""
    return "spyhole-" + re.sub(r"[^a-z0-9]+", "-", kiln.lower())


def shown(keys: Access) -> str:
    """Everything that lets anybody in, a line each; no secret."""
    lines = [
        f"{key.id}  {key.kind}, {key.role}{f', {key.person}' if key.person else ''}"
        f"{f', {key.label}' if key.label else ''}; {_seen(key.seen_utc_ms)}{_ends(key.ends_utc_ms)}"
        for key in keys.view()
    ]
    return "\n".join(lines) if lines else "Nobody has been let in yet. A first code: spyhole access code"


def _seen(utc_ms: int | None) -> str:
    return "not used yet" if utc_ms is None else f"last used {_day(utc_ms)}"


def _ends(utc_ms: int | None) -> str:
    return "" if utc_ms is None else f"; ends {_day(utc_ms)}"


def _day(utc_ms: int) -> str:
    return time.strftime("%F", time.localtime(utc_ms / 1000))


def page_of(listen: str, port: int, page_address: str) -> str:
    """The page's address as a phone opens it: what the settings say, else a name or number of this machine."""
    if page_address:
        return page_address.rstrip("/")
    if listen == LOOPBACK:
        return f"http://localhost:{port}"
    return f"http://{_own_number() if listen == EVERYWHERE else listen}:{port}"


def names_of(listen: str, page_address: str) -> tuple[str, ...]:
    """The names the page answers to, besides this machine's own: a foreign name that leads here is a trick."""
    named = urlsplit(page_address).hostname
    host = socket.gethostname().lower()
    reached = () if listen == LOOPBACK else (host, f"{host.partition('.')[0]}.local")
    return (*reached, *(() if named is None else (named,)))


def _own_number() -> str:
    """The address by which others on the network reach this machine; asking the kernel sends nothing."""
    with socket.socket(socket.AF_INET, socket.SOCK_DGRAM) as asked:
        try:
            asked.connect(("192.0.2.1", 9))
        except OSError:
            return socket.gethostname()
        return str(asked.getsockname()[0])


def _alone(settings: Settings, given: Given) -> str:
    if given["do"] == "revoke" and not given.get("name"):
        raise Refusal("key", "which one", "spyhole access list says what there is")
    keys = access_in(settings.data)
    return do(keys, page_of(settings.listen, settings.port, settings.reach.page_address), given)
