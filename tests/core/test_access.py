"""Who may open the page: keys that end, tries that are counted."""

from dataclasses import replace

from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.access import (
    DAY_MS,
    DEVICE_DAYS,
    KEYS_AT_MOST,
    MINUTE_MS,
    TRIES_A_MINUTE,
    TRIES_A_MINUTE_FROM_ONE,
    Key,
    Keys,
    Kind,
    Role,
    Tries,
    Visitor,
    digest_of,
    plain_code,
    spoken_code,
)

NOW = 1_900_000_000_000


def key(kind: Kind = Kind.DEVICE, secret: str = "long", *, ends: int | None = None, made: int = NOW) -> Key:
    return Key(f"id-{secret}", kind, digest_of(secret), Role.KEEPER, "Ruth", "phone", made, None, ends)


def test_a_key_opens_until_it_ends() -> None:
    keys = Keys().with_key(key(Kind.CODE, ends=NOW + 1000), NOW)
    assert keys.found("long", (Kind.CODE,), NOW + 999) is not None
    assert keys.found("long", (Kind.CODE,), NOW + 1000) is None
    assert keys.found("long", (Kind.TOKEN,), NOW) is None, "a code is no token"
    assert keys.found("other", (Kind.CODE,), NOW) is None


def test_a_device_that_was_not_seen_for_half_a_year_is_forgotten() -> None:
    keys = Keys().with_key(key(), NOW)
    last = NOW + DEVICE_DAYS * DAY_MS
    assert keys.found("long", (Kind.DEVICE,), last - 1) is not None
    assert keys.found("long", (Kind.DEVICE,), last) is None
    seen = keys.seen("id-long", NOW + 10 * DAY_MS)
    assert seen.found("long", (Kind.DEVICE,), last) is not None


def test_that_it_was_seen_is_noted_once_a_day() -> None:
    keys = Keys().with_key(key(), NOW).seen("id-long", NOW)
    assert keys.seen("id-long", NOW + DAY_MS - 1) is keys
    assert keys.seen("id-long", NOW + DAY_MS) is not keys
    assert keys.seen("id-other", NOW + DAY_MS) is keys


def test_what_ended_goes_and_there_are_never_too_many() -> None:
    keys = Keys((key(Kind.CODE, "old", ends=NOW - 1),))
    for number in range(KEYS_AT_MOST + 5):
        keys = keys.with_key(key(secret=f"s{number}"), NOW)
    assert len(keys.everything) == KEYS_AT_MOST
    assert keys.found("old", (Kind.CODE,), NOW - 10) is None


def test_guests_never_push_a_keeper_out() -> None:
    keys = Keys().with_key(key(secret="keeper"), NOW)
    for number in range(KEYS_AT_MOST + 5):
        keys = keys.with_key(replace(key(secret=f"pupil {number}"), role=Role.GUEST), NOW)
    assert len(keys.everything) == KEYS_AT_MOST
    assert keys.found("keeper", (Kind.DEVICE,), NOW) is not None


def test_a_clock_that_wakes_in_1970_puts_nobody_out() -> None:
    keys = Keys().with_key(key(), NOW)
    assert keys.seen("id-long", 1000).seen("id-long", NOW).found("long", (Kind.DEVICE,), NOW) is not None
    early = Keys().with_key(key(made=1000), 1000)
    assert early.found("long", (Kind.DEVICE,), NOW) is not None
    assert early.seen("id-long", NOW).found("long", (Kind.DEVICE,), NOW + DAY_MS) is not None


def test_a_guest_looks_and_changes_nothing() -> None:
    assert Visitor("", Role.GUEST).may(change=False)
    assert not Visitor("", Role.GUEST).may(change=True)
    assert Visitor("Ruth", Role.KEEPER).may(change=True)


def test_nobody_is_a_keeper_by_a_code_alone() -> None:
    assert not Keys().with_key(key(Kind.CODE), NOW).has_keeper
    assert Keys().with_key(key(Kind.DEVICE), NOW).has_keeper


def test_a_code_is_the_same_however_it_is_typed() -> None:
    assert plain_code(" k7qpm-3txwd ") == "K7QPM3TXWD"
    assert plain_code(spoken_code("K7QPM3TXWD")) == "K7QPM3TXWD"


def test_ten_thousand_tries_from_one_place_leave_room_for_the_owner() -> None:
    """Fault 18 of the list: at most ten a minute are looked at, and the owner is not shut out."""
    tries, looked_at, owner = Tries(), [], 0
    for number in range(10_000):
        at = number * 60  # ten minutes of it
        more = tries.one_more("192.0.2.66", at)
        if more is not None:
            tries = more
            looked_at.append(at)
        if number % 1000 == 999:
            own = tries.one_more("192.0.2.7", at)
            assert own is not None
            tries, owner = own, owner + 1
    assert owner == 10
    for at in looked_at:
        assert sum(1 for other in looked_at if at <= other < at + MINUTE_MS) <= TRIES_A_MINUTE_FROM_ONE


def test_what_let_somebody_in_is_no_try_of_a_guesser() -> None:
    tries = Tries()
    for at in range(20):
        more = tries.one_more("192.0.2.7", at)
        assert more is not None
        tries = more.one_less("192.0.2.7")
    assert tries == Tries()
    guessed = Tries(((1, "192.0.2.66"), (2, "192.0.2.7"), (3, "192.0.2.66")))
    assert guessed.one_less("192.0.2.66") == Tries(((1, "192.0.2.66"), (2, "192.0.2.7")))
    assert guessed.one_less("192.0.2.9") == guessed


@given(st.lists(st.tuples(st.integers(0, 300_000), st.sampled_from("abcd")), max_size=60))
def test_never_more_than_ten_in_a_minute(asked: list[tuple[int, str]]) -> None:
    tries, looked_at = Tries(), []
    for at, place in sorted(asked):
        more = tries.one_more(place, at)
        if more is not None:
            tries = more
            looked_at.append(at)
    assert all(sum(1 for other in looked_at if at <= other < at + MINUTE_MS) <= TRIES_A_MINUTE for at in looked_at)
