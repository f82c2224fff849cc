"""What `spyhole watch` says of coming in, on the screen of the machine it runs on."""

from pathlib import Path
from types import SimpleNamespace
from typing import Any

import pytest

from spyhole.app.access import access_in
from spyhole.app.watching import say_first_code
from spyhole.core.access import Role


def test_it_says_how_the_first_keeper_comes_in_and_nothing_once_there_is_one(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    access = access_in(tmp_path)
    daemon: Any = SimpleNamespace(access=access, page_address="http://localhost:8420")
    say_first_code(daemon)
    assert capsys.readouterr().out == "Nobody is a keeper yet: spyhole access code\n", "no code into a log"
    monkeypatch.setattr("sys.stdout.isatty", lambda: True)
    say_first_code(daemon)
    assert "http://localhost:8420/door#code=" in capsys.readouterr().out
    access.enter(access.code(Role.KEEPER, "Ruth", "").words, "", "", "a")
    say_first_code(daemon)
    assert capsys.readouterr().out == ""
