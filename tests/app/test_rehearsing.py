"""What a rehearsal finds in its folder. The kiln book before it is not written here."""

from datetime import UTC
from pathlib import Path

import pytest

from spyhole.app import rehearsing
from spyhole.app.access import access_in
from spyhole.core.access import Role
from spyhole.core.words import Manner


@pytest.mark.parametrize("fresh", [False, True])
def test_anew_is_open_again_and_else_who_came_in_stays_in(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fresh: bool
) -> None:
    monkeypatch.setattr(rehearsing, "seed", lambda *_: None)
    keys = access_in(tmp_path)
    secret, visitor = keys.enter(keys.code(Role.KEEPER, "Ruth", "").words, "", "phone", "")
    rehearsing._prepare(rehearsing.Wish(tmp_path, fresh=fresh), Manner(UTC))
    assert access_in(tmp_path).visitor(secret, None) == (None if fresh else visitor)
    assert access_in(tmp_path).is_set_up is not fresh
