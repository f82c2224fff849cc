"""Whether bytes are a photograph: the markers of JPEG (ITU-T T.81, annex B, from memory), and a name by its content."""

import re
from hashlib import sha256

from spyhole.core.refusal import Refusal

LARGEST_BYTES = 1024 * 1024
LARGEST_SIDE = 8000
"""Pixels; a phone sends 1600, and what is larger would cost whoever opens it."""

PHOTO_NAME = re.compile(r"[0-9a-f]{32}")

_START, _END, _SCAN = 0xD8, 0xD9, 0xDA
_FRAMES = frozenset(range(0xC0, 0xD0)) - {0xC4, 0xC8, 0xCC}
_ALONE = frozenset(range(0xD0, 0xD8)) | {0x01}


def photo_name(jpeg: bytes) -> str:
    """The same photograph has the same name, however often it is sent."""
    return sha256(jpeg).hexdigest()[:32]


def check_jpeg(jpeg: bytes) -> tuple[int, int]:
    """Width and height of a photograph [pixels]; Refusal for anything else, by its bytes and not by what it claims."""
    if len(jpeg) > LARGEST_BYTES:
        raise Refusal("photo", f"it has {len(jpeg) >> 10} KiB", f"at most {LARGEST_BYTES >> 10} KiB are kept")
    size = _size(jpeg)
    if size is None or not jpeg.rstrip(b"\0").endswith(bytes((0xFF, _END))):
        raise Refusal("photo", "this is no whole JPEG photograph", "take it again, or choose another")
    if not all(0 < side <= LARGEST_SIDE for side in size):
        raise Refusal("photo", f"it is {size[0]} by {size[1]} pixels", f"at most {LARGEST_SIDE} either way")
    return size


def _size(jpeg: bytes) -> tuple[int, int] | None:
    """From marker to marker up to the scan; None where something else stands."""
    if jpeg[:2] != bytes((0xFF, _START)):
        return None
    at, size = 2, None
    while at + 4 <= len(jpeg) and jpeg[at] == 0xFF:
        marker = jpeg[at + 1]
        if marker == 0xFF or marker in _ALONE:  # fill, or a marker without a length
            at += 1 if marker == 0xFF else 2
            continue
        length = int.from_bytes(jpeg[at + 2 : at + 4], "big")
        if length < 2 or at + 2 + length > len(jpeg):
            return None
        if marker in _FRAMES and length >= 8:
            height, width = (int.from_bytes(jpeg[at + n : at + n + 2], "big") for n in (5, 7))
            size = width, height
        if marker == _SCAN:
            return size
        at += 2 + length
    return None
