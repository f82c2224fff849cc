"""A photograph is known by its bytes, checked against a JPEG by another program's encoder (Chromium's, by canvas)."""

from base64 import b64decode

import pytest
from hypothesis import given
from hypothesis import strategies as st

from spyhole.core.forms.jpeg import LARGEST_BYTES, check_jpeg, photo_name
from spyhole.core.refusal import Refusal

# canvas of 5 by 3 pixels, toBlob("image/jpeg", 0.1)
CHROMIUM = b64decode("""
/9j/4AAQSkZJRgABAQAAAQABAAD/4gHYSUNDX1BST0ZJTEUAAQEAAAHIAAAAAAQwAABtbnRyUkdCIFhZWiAH4AABAAEAAAAAAABhY3NwAAAAAA
AAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAQAA9tYAAQAAAADTLQAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAAA
AAAAAAlkZXNjAAAA8AAAACRyWFlaAAABFAAAABRnWFlaAAABKAAAABRiWFlaAAABPAAAABR3dHB0AAABUAAAABRyVFJDAAABZAAAAChnVFJDAA
ABZAAAAChiVFJDAAABZAAAAChjcHJ0AAABjAAAADxtbHVjAAAAAAAAAAEAAAAMZW5VUwAAAAgAAAAcAHMAUgBHAEJYWVogAAAAAAAAb6IAADj1
AAADkFhZWiAAAAAAAABimQAAt4UAABjaWFlaIAAAAAAAACSgAAAPhAAAts9YWVogAAAAAAAA9tYAAQAAAADTLXBhcmEAAAAAAAQAAAACZmYAAP
KnAAANWQAAE9AAAApbAAAAAAAAAABtbHVjAAAAAAAAAAEAAAAMZW5VUwAAACAAAAAcAEcAbwBvAGcAbABlACAASQBuAGMALgAgADIAMAAxADb/
2wBDAFA3PEY8MlBGQUZaVVBfeMiCeG5uePWvuZHI////////////////////////////////////////////////////2wBDAVVaWnhpeOuCgu
v/////////////////////////////////////////////////////////////////////////wAARCAADAAUDASIAAhEBAxEB/8QAFQABAQAA
AAAAAAAAAAAAAAAAAAP/xAAUEAEAAAAAAAAAAAAAAAAAAAAA/8QAFAEBAAAAAAAAAAAAAAAAAAAAA//EABQRAQAAAAAAAAAAAAAAAAAAAAD/2g
AMAwEAAhEDEQA/AJgCK//Z
""")


def test_a_browsers_jpeg_is_one_and_says_its_size() -> None:
    assert check_jpeg(CHROMIUM) == (5, 3)


def test_the_same_photograph_has_the_same_name() -> None:
    assert photo_name(CHROMIUM) == photo_name(bytes(CHROMIUM)) != photo_name(CHROMIUM + b"\0")


@pytest.mark.parametrize(
    ("what", "words"),
    [
        (b"", "no whole JPEG"),
        (b"GIF89a" + CHROMIUM, "no whole JPEG"),
        (CHROMIUM[:-2], "no whole JPEG"),
        (CHROMIUM[:40] + CHROMIUM[-2:], "no whole JPEG"),
        (b"\xff\xd8<script>alert(1)</script>\xff\xd9", "no whole JPEG"),
        (b"\xff\xd8\xff\xc0\0\x08\x08\xff\xff\0\x01\x01\xff\xda\0\x02\xff\xd9", "pixels"),
        (b"\xff\xd8\xff\xc0\0\x08\x08\0\0\0\x01\x01\xff\xda\0\x02\xff\xd9", "pixels"),
        (CHROMIUM + b"\0" * LARGEST_BYTES, "KiB"),
    ],
)
def test_what_is_no_photograph_is_refused_in_words(what: bytes, words: str) -> None:
    with pytest.raises(Refusal, match=words):
        check_jpeg(what)


@given(st.binary(max_size=200), st.integers(0, len(CHROMIUM)))
def test_whatever_comes_is_a_size_or_a_refusal(noise: bytes, at: int) -> None:
    for what in (noise, CHROMIUM[:at] + noise + CHROMIUM[at:], b"\xff\xd8" + noise + b"\xff\xd9"):
        try:
            width, height = check_jpeg(what)
        except Refusal:
            continue
        assert width > 0
        assert height > 0
