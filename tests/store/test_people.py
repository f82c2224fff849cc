"""People in the record, on both databases; an old record that had none; and what was told, by key and by time."""

from typing import TYPE_CHECKING

from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from sqlalchemy import text

from spyhole.services.archive import Batch, Message
from spyhole.services.people import Channel, People, Person, Rang, Role
from spyhole.store.migrate import bring_up_to_date
from spyhole.store.tables import SCHEMA

if TYPE_CHECKING:
    from conftest import Record

WORDS = st.text(st.characters(categories=("L", "N", "P")), min_size=1, max_size=20)
CHANNELS = st.builds(Channel, WORDS, WORDS, st.booleans(), st.sampled_from(Rang), st.none() | st.integers(0, 2**42))
PERSONS = st.builds(
    Person,
    WORDS,
    st.sampled_from(Role),
    st.lists(CHANNELS, max_size=3, unique_by=lambda channel: channel.name).map(tuple),
    st.none() | st.tuples(st.integers(0, 1439), st.integers(0, 1439)),
)
EVERYBODY = st.lists(PERSONS, max_size=4, unique_by=lambda person: person.name).map(lambda some: People(tuple(some)))


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(EVERYBODY, EVERYBODY)
def test_people_come_back_as_they_were_and_each_list_replaces_the_one_before(
    any_record: "Record", first: People, second: People
) -> None:
    archive = any_record.open()
    for people in (first, second):
        archive.put(Batch(people=people, urgent=True))
        assert archive.flush(30)
        assert archive.people() == people
    any_record.close()


def test_an_empty_record_has_nobody(any_record: "Record") -> None:
    archive = any_record.open()
    assert archive.people() == People()
    assert archive.told_keys(10) == []
    assert archive.last_told() == {}


def test_what_was_told_is_known_by_key_oldest_first_and_by_the_last_time(any_record: "Record") -> None:
    archive = any_record.open()
    messages = tuple(Message(f"k{n}", "Ruth/phone" if n % 2 else "Ines/phone", "t", "x", False, n) for n in range(6))
    archive.put(Batch(messages=messages))
    archive.message_sent("k1", 2**41)
    archive.message_sent("k3", 2**41 + 5)
    archive.message_failed("k2", "no answer")
    assert archive.flush(30)
    assert archive.told_keys(4) == ["k2", "k3", "k4", "k5"]
    assert archive.last_told() == {"Ruth/phone": 2**41 + 5}


def test_a_record_of_the_first_spyhole_gets_people_and_keeps_its_messages(record: "Record") -> None:
    archive = record.open()
    archive.put(Batch(messages=(Message("k1", "studio", "t", "x", False, 1),)))
    assert archive.flush(30)
    engine = archive._writer._engine
    record.close()
    with engine.begin() as connection:
        for words in (
            "DROP TABLE photo", "DROP TABLE channel", "DROP TABLE person",
            "ALTER TABLE message DROP COLUMN done_utc_ms",
            "UPDATE alembic_version SET version_num = '0001'",
        ):  # fmt: skip
            connection.execute(text(words))
    assert bring_up_to_date(engine, "the record")
    with engine.connect() as connection:
        assert connection.scalar(text("SELECT version_num FROM alembic_version")) == SCHEMA
    engine.dispose()
    archive = record.open()
    assert archive.people() == People()
    assert [pending.message.key for pending in archive.pending_messages()] == ["k1"]
