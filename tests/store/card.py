"""A card that keeps a list of what is written to it and fails on request: SQLite's own file layer, with some calls
lying between the record and the machine's files (`sqlite3_io_methods`, sqlite.org/c3ref/io_methods.html).

The record on it is the real one, by the real SQLite of this Python; needs no root and no package.
"""

import ctypes
import sqlite3
from collections.abc import Callable
from ctypes import CFUNCTYPE, POINTER, c_char_p, c_int, c_int64, c_void_p
from dataclasses import dataclass
from pathlib import Path
from typing import Any

NAME = b"card"
UNDER = b"unix-excl"
"""What the record itself uses."""


@dataclass(frozen=True)
class Done:
    """One operation. what: write, truncate, delete, sync, sync-folder, failed-sync (what waited may never be)."""

    file: str
    what: str
    offset: int = 0
    content: bytes = b""


class _Methods(ctypes.Structure):
    _fields_ = [("version", c_int), *((f"call_{n}", c_void_p) for n in range(18))]


class _File(ctypes.Structure):
    _fields_ = [("methods", POINTER(_Methods))]


class _Vfs(ctypes.Structure):
    _fields_ = [
        ("version", c_int),
        ("file_bytes", c_int),
        ("longest_path", c_int),
        ("next", c_void_p),
        ("name", c_char_p),
        ("data", c_void_p),
        ("open", c_void_p),
        ("delete", c_void_p),
        *((f"call_{n}", c_void_p) for n in range(14)),
    ]


_OPEN = CFUNCTYPE(c_int, c_void_p, c_char_p, POINTER(_File), c_int, POINTER(c_int))
_DELETE = CFUNCTYPE(c_int, c_void_p, c_char_p, c_int)
_WRITE = CFUNCTYPE(c_int, c_void_p, c_void_p, c_int, c_int64)
_TRUNCATE = CFUNCTYPE(c_int, c_void_p, c_int64)
_SYNC = CFUNCTYPE(c_int, c_void_p, c_int)


def _library() -> ctypes.CDLL:
    """The SQLite that this Python's own module uses: another copy of it would not see our card."""
    sqlite3.connect(":memory:").close()
    for line in Path("/proc/self/maps").read_text().splitlines():
        path = line.split()[-1]
        if "libsqlite3" in path:
            return ctypes.CDLL(path)
    return ctypes.CDLL(None)


class Card:
    """fail: asked before each operation, (file, what) -> a code of SQLite's to answer with, or None to do it."""

    def __init__(self) -> None:
        self.done: list[Done] = []
        self.fail: Callable[[str, str], int | None] = lambda file, what: None
        self._paths: dict[int, str] = {}
        self._keep: list[Any] = []
        self._sqlite = _library()
        self._sqlite.sqlite3_vfs_find.restype = POINTER(_Vfs)
        self._sqlite.sqlite3_vfs_find.argtypes = [c_char_p]
        self._sqlite.sqlite3_vfs_register.argtypes = [POINTER(_Vfs), c_int]
        self._sqlite.sqlite3_vfs_unregister.argtypes = [POINTER(_Vfs)]
        under = self._sqlite.sqlite3_vfs_find(UNDER)
        if not under:
            raise RuntimeError("the SQLite of this Python is out of reach: nothing about cards can be shown here")
        self._under = under
        self._vfs = _Vfs.from_buffer_copy(under.contents)
        self._vfs.name = NAME
        self._real_open = _OPEN(under.contents.open)
        self._real_delete = _DELETE(under.contents.delete)
        opened, deleted = _OPEN(self._open), _DELETE(self._delete)
        self._keep += [opened, deleted]
        self._vfs.open = ctypes.cast(opened, c_void_p).value
        self._vfs.delete = ctypes.cast(deleted, c_void_p).value
        self._sqlite.sqlite3_vfs_register(ctypes.byref(self._vfs), 0)

    def folder_synced(self) -> None:
        """The record calls for this by the machine's own means, which the card does not see."""
        self.done.append(Done("", "sync-folder"))

    def take_out(self) -> None:
        """Nothing opens on it any more. Every connection has to be closed before."""
        self._sqlite.sqlite3_vfs_unregister(ctypes.byref(self._vfs))

    def _open(self, _: int, path: bytes | None, file: Any, flags: int, out: Any) -> int:
        name = Path(path.decode()).name if path else "temporary"
        if (code := self.fail(name, "open")) is not None:
            return code
        code = self._real_open(ctypes.cast(self._under, c_void_p), path, file, flags, out)
        if code == 0 and file.contents.methods:
            self._paths[ctypes.addressof(file.contents)] = name
            file.contents.methods = ctypes.pointer(self._methods(file.contents.methods.contents))
        return code

    def _delete(self, _: int, path: bytes, sync: int) -> int:
        name = Path(path.decode()).name
        if (code := self.fail(name, "delete")) is not None:
            return code
        code = int(self._real_delete(ctypes.cast(self._under, c_void_p), path, sync))
        if code == 0:
            self.done.append(Done(name, "delete"))
        return code

    def _methods(self, real: _Methods) -> _Methods:
        mine = _Methods.from_buffer_copy(real)
        write, truncate, sync = _WRITE(real.call_2), _TRUNCATE(real.call_3), _SYNC(real.call_4)

        def do_write(file: int, content: int, length: int, offset: int) -> int:
            name = self._paths[file]
            if (code := self.fail(name, "write")) is not None:
                return code
            self.done.append(Done(name, "write", offset, ctypes.string_at(content, length)))
            return int(write(file, content, length, offset))

        def do_truncate(file: int, size: int) -> int:
            name = self._paths[file]
            if (code := self.fail(name, "truncate")) is not None:
                return code
            self.done.append(Done(name, "truncate", size))
            return int(truncate(file, size))

        def do_sync(file: int, flags: int) -> int:
            name = self._paths[file]
            if (code := self.fail(name, "sync")) is not None:
                self.done.append(Done(name, "failed-sync"))
                return code
            code = int(sync(file, flags))
            self.done.append(Done(name, "sync"))
            return code

        mine_calls = _WRITE(do_write), _TRUNCATE(do_truncate), _SYNC(do_sync)
        self._keep += [mine, *mine_calls]
        mine.call_2, mine.call_3, mine.call_4 = (ctypes.cast(call, c_void_p).value for call in mine_calls)
        return mine
