"""Other kilns that this machine watches: each by a daemon of its own, with a page of its own."""

from dataclasses import dataclass


@dataclass(frozen=True, slots=True)
class OtherKiln:
    """kiln: its name. port: of its page, on this machine. address: of its page, "" where only the port is another."""

    kiln: str
    port: int
    address: str = ""
