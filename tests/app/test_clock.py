"""Whether the wall clock has been set is what the kernel says, and where it may not be asked, what timesyncd left."""

import ctypes
from pathlib import Path
from types import SimpleNamespace

import pytest

from spyhole.app import clock
from spyhole.app.clock import SYNCHRONISED_EVERY_SECONDS, TIME_ERROR, MachineClock


class Kernel:
    """What adjtimex(2) answers; the values of its manual page: TIME_OK 0 to TIME_WAIT 4, TIME_ERROR 5."""

    def __init__(self, answer: int) -> None:
        self.answer = answer
        self.asked: list[bytes] = []

    def adjtimex(self, timex: "ctypes.Array[ctypes.c_char]") -> int:
        self.asked.append(bytes(timex))
        return self.answer


@pytest.fixture
def mark(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> Path:
    monkeypatch.setattr(clock, "TIMESYNCD_MARK", tmp_path / "synchronized")
    return tmp_path / "synchronized"


def told(monkeypatch: pytest.MonkeyPatch, kernel: object) -> bool:
    monkeypatch.setattr(clock.ctypes, "CDLL", lambda _name: kernel)
    return MachineClock().now().synchronised


@pytest.mark.parametrize("answer", [0, 1, 2, 3, 4])
def test_a_clock_that_a_source_has_set(monkeypatch: pytest.MonkeyPatch, mark: Path, answer: int) -> None:
    """A leap second ahead or under way (1 to 4) is no reason to doubt."""
    assert told(monkeypatch, Kernel(answer))


def test_a_clock_that_nothing_has_set_though_an_old_mark_says_so(monkeypatch: pytest.MonkeyPatch, mark: Path) -> None:
    mark.touch()
    assert not told(monkeypatch, Kernel(TIME_ERROR))


@pytest.mark.parametrize("kernel", [Kernel(-1), SimpleNamespace()], ids=["forbidden", "no such question"])
def test_where_the_kernel_may_not_be_asked_the_mark_says_it(
    monkeypatch: pytest.MonkeyPatch, mark: Path, kernel: object
) -> None:
    assert not told(monkeypatch, kernel)
    mark.touch()
    assert told(monkeypatch, kernel)


def test_the_question_changes_nothing(monkeypatch: pytest.MonkeyPatch, mark: Path) -> None:
    kernel = Kernel(0)
    told(monkeypatch, kernel)
    assert kernel.asked == [bytes(clock.TIMEX_BYTES)], "modes 0 asks; anything else would set"


def test_this_machine_answers(monkeypatch: pytest.MonkeyPatch) -> None:
    """The real call, of the real size: adjtimex(2) by way of the C library."""
    timex = ctypes.create_string_buffer(clock.TIMEX_BYTES)
    answer = int(ctypes.CDLL(None).adjtimex(timex))
    assert answer in range(-1, 6)
    if answer >= 0:
        assert MachineClock().now().synchronised is (answer != TIME_ERROR)


def test_it_is_asked_again_in_time(monkeypatch: pytest.MonkeyPatch, mark: Path) -> None:
    kernel = Kernel(TIME_ERROR)
    monkeypatch.setattr(clock.ctypes, "CDLL", lambda _name: kernel)
    seconds = [1000.0]
    monkeypatch.setattr(clock.time, "monotonic", lambda: seconds[0])
    machine = MachineClock()
    kernel.answer = 0
    assert not machine.now().synchronised
    seconds[0] += SYNCHRONISED_EVERY_SECONDS + 1
    assert machine.now().synchronised
