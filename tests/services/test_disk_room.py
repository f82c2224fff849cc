"""Little room on the disk is told before there is none, and what the record says of its disk comes first."""

from spyhole.services.conditions import DISK, Conditions
from spyhole.services.disk_room import ENOUGH_BYTES, LITTLE_BYTES, DiskRoom


class Disk:
    """So many bytes are left; None where nobody can say."""

    def __init__(self) -> None:
        self.left: int | None = 10 * ENOUGH_BYTES
        self.conditions = Conditions(lambda: 0)
        self.room = DiskRoom(self.free, self.conditions)

    def free(self) -> int:
        if self.left is None:
            raise OSError("the folder is gone")
        return self.left

    def look(self, left: int | None) -> list[str]:
        self.left = left
        self.room.look()
        return [one.words for one in self.conditions.views()]


def test_little_room_is_told_and_enough_is_well_above_it() -> None:
    disk = Disk()
    assert disk.look(LITTLE_BYTES) == []
    assert disk.look(LITTLE_BYTES - 1) == [DISK.words]
    assert disk.look(LITTLE_BYTES + 1) == [DISK.words]
    assert disk.look(None) == [DISK.words]
    assert disk.look(ENOUGH_BYTES) == []


def test_a_full_disk_says_so_itself_and_little_room_stands_again_once_it_is_written() -> None:
    disk = Disk()
    disk.look(LITTLE_BYTES - 1)
    disk.room.told("watch-disk", "The disk is full.")
    assert disk.look(0) == ["The disk is full."]
    disk.room.told("watch-disk", None)
    assert disk.look(LITTLE_BYTES - 1) == [DISK.words]


def test_other_troubles_of_the_record_are_passed_on() -> None:
    disk = Disk()
    disk.room.told("watch-store", "The record is damaged.")
    assert [one.code for one in disk.conditions.views()] == ["watch-store"]
