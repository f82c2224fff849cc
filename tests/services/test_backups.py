"""Which backups stay."""

from hypothesis import given
from hypothesis import strategies as st

from spyhole.services.backups import Keep, backup_name, let_go

DAY_MS = 86_400_000
THURSDAY_MS = 1_951_155_600_000
"""30 October 2031."""

moments = st.lists(st.integers(0, 4_000_000_000_000), min_size=1, max_size=60)


def test_seven_days_and_eight_weeks_of_a_year_of_nights():
    names = [backup_name(THURSDAY_MS - day * DAY_MS) for day in range(365)]
    staying = sorted(set(names) - set(let_go(names, Keep(7, 8), names[0])), reverse=True)
    assert staying[:7] == names[:7]
    # Of the weeks before, each Sunday's: the 26th is among the seven days, then the 19th and back.
    assert staying[7:] == [names[4 + 7 * week] for week in range(1, 7)]


def test_of_one_day_the_last_stays():
    names = [backup_name(THURSDAY_MS + minute * 60_000) for minute in range(5)]
    assert let_go(names, Keep(7, 8), names[-1]) == names[3::-1]


@given(moments, st.integers(0, 59))
def test_what_was_just_made_stays_whatever_the_clock_said(utc_ms: list[int], which: int):
    names = [backup_name(at) for at in utc_ms]
    newest = names[which % len(names)]
    gone = let_go(names, Keep(1, 0), newest)
    assert newest not in gone
    assert set(names) - set(gone) == {newest, max(names)}


@given(st.lists(st.text(max_size=30)))
def test_what_has_no_name_of_ours_is_never_let_go(names: list[str]):
    others = ["record-2031-99-99T00-00-00Z.zip", "record-2031-10-30T19-40-00Z.zip.part", "notes.txt", *names]
    assert let_go(others, Keep(1, 0), backup_name(THURSDAY_MS)) == []
