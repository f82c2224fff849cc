"""The page of the service in the box, as a keeper's program asks it from outside."""

import contextlib
import json
import urllib.error
import urllib.request

from box import Box, until


def afresh(box: Box, page: "Page") -> None:
    """A new record, and a firing begun in it: a wire that an earlier proof broke four times in twenty minutes is loose,
    and stays told."""
    box.new_record()
    page.ask("/api/entries", {"kind": "start", "value": "06", "who": "Ruth"})


class Page:
    """What the page says to a keeper, from outside."""

    def __init__(self, token: str, host: str = "127.0.0.1", port: int = 8420) -> None:
        self._base = f"http://{host}:{port}"
        self.token = token

    def ask(self, path: str, body: object | None = None) -> dict[str, object]:
        """GET, or POST a body. OSError."""
        data = None if body is None else json.dumps(body).encode()
        headers = {"Authorization": f"Bearer {self.token}", "Content-Type": "application/json"}
        wish = urllib.request.Request(self._base + path, data=data, headers=headers)
        with urllib.request.urlopen(wish, timeout=10) as answer:
            said: dict[str, object] = json.loads(answer.read() or b"{}")
        return said

    def file(self, path: str) -> bytes:
        """GET, as it comes. OSError."""
        wish = urllib.request.Request(self._base + path, headers={"Authorization": f"Bearer {self.token}"})
        with urllib.request.urlopen(wish, timeout=60) as answer:
            content: bytes = answer.read()
        return content

    def now(self) -> dict[str, object]:
        """The snapshot; empty while it cannot be had."""
        try:
            return self.ask("/api/now")
        except (OSError, urllib.error.URLError, ValueError):
            return {}

    def sequence(self) -> int:
        """Of the newest reading; 0 while the page cannot be had."""
        return int(str(self.now().get("sequence", 0)))

    def note(self, words: str) -> bool:
        """A note written down; whether it is said to be on the card."""
        return self.ask("/api/entries", {"kind": "note", "value": f"proof-{words}", "who": "Ruth"})["stored"] is True

    def alarms(self) -> list[dict[str, object]]:
        """Those that stand."""
        found = self.now().get("alarms", [])
        assert isinstance(found, list)
        return found

    def answer_all(self) -> None:
        """Everything acknowledged, so that the next trouble is told anew."""
        for alarm in self.alarms():
            with contextlib.suppress(OSError):
                self.ask(f"/api/alarms/{alarm['episode']}/acknowledgement", {"who": "Ruth"})

    def calm(self) -> bool:
        """All acknowledged, and over: whether it came to that."""

        def over() -> bool:
            self.answer_all()
            for alarm in self.alarms():
                with contextlib.suppress(OSError):  # refused until it is over
                    self.ask(f"/api/alarms/{alarm['episode']}/reset", {"who": "Ruth"})
            # A card as small as the proof's is short of room again and again, and that is told apart from all else.
            return bool(self.now()) and all(str(alarm["tag"]).startswith("watch-") for alarm in self.alarms())

        return until(200, over, 5)

    def conditions(self) -> set[str]:
        """Codes of what ails the watch, those that are alarms by now too."""
        seen = self.now()
        alarms, conditions = seen.get("alarms", []), seen.get("conditions", [])
        assert isinstance(alarms, list)
        assert isinstance(conditions, list)
        return {one["code"] for one in conditions} | {one["tag"] for one in alarms}
