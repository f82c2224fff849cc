"""States as bytes, for checkpoints: compressed JSON, floats exact, and a number for the form of the state.

One is written each minute, and each kB of it is some 5 MiB a day to the card (`make bench`): bzip2 leaves a ninth less
than zlib does, for a millisecond.
"""

import bz2
import zlib
from functools import cache
from importlib.metadata import PackageNotFoundError, version
from json import dumps

from pydantic import TypeAdapter

from spyhole.services.keeping import Keeping
from spyhole.services.recovery import Codec


@cache
def codec() -> Codec:
    """version: of the whole shape of `Keeping` and of the release, so that no state is taken for another's."""
    adapter = TypeAdapter(Keeping)
    shape = dumps(adapter.json_schema(), sort_keys=True) + "bz2" + _release()

    def freeze(keeping: Keeping) -> bytes:
        return bz2.compress(adapter.dump_json(keeping), 1)

    def thaw(blob: bytes) -> Keeping:
        try:
            return adapter.validate_json(bz2.decompress(blob))
        except OSError as error:
            raise ValueError(str(error)) from None

    return Codec(zlib.crc32(shape.encode()) & 0x7FFFFFFF, freeze, thaw)


def _release() -> str:
    try:
        return version("spyhole")
    except PackageNotFoundError:
        return "0"
