"""Who can be told, as the record has it and as the settings say; changed by one act at a time."""

import threading
from collections.abc import Callable

from spyhole.core.refusal import Refusal
from spyhole.services.archive import Archive, Batch
from spyhole.services.people import People, Person

KEEP_SECONDS = 5.0


class Roster:
    """always: those the settings name, who cannot be changed here. kept: those of the record."""

    def __init__(self, archive: Archive, kept: People, always: tuple[Person, ...] = ()) -> None:
        self._archive = archive
        self._kept = kept
        self._always = always
        self._lock = threading.Lock()
        self.changed: Callable[[People], None] = lambda people: None

    @property
    def kept(self) -> People:
        """Those of the record."""
        return self._kept

    @property
    def people(self) -> People:
        """Everybody, those of the settings first."""
        return People((*self._always, *self._kept.everybody))

    def change(self, edit: Callable[[People], People]) -> bool:
        """Make a change of those in the record; True when it is on the disk. Refusal where there can be none."""
        with self._lock:
            kept = edit(self._kept)
            taken = {person.name for person in self._always} & {person.name for person in kept.everybody}
            if taken:
                raise Refusal("person", f"the settings name {', '.join(taken)}", "choose another name")
            self._archive.put(Batch(people=kept, urgent=True))
            self._kept = kept
            self.changed(self.people)
        return self._archive.flush(KEEP_SECONDS)
