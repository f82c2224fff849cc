"""States as bytes, for checkpoints: compressed JSON, floats exact, and a number for the form of the state."""

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
    shape = dumps(adapter.json_schema(), sort_keys=True) + _release()

    def freeze(keeping: Keeping) -> bytes:
        return zlib.compress(adapter.dump_json(keeping))

    def thaw(blob: bytes) -> Keeping:
        try:
            return adapter.validate_json(zlib.decompress(blob))
        except zlib.error as error:
            raise ValueError(str(error)) from None

    return Codec(zlib.crc32(shape.encode()) & 0x7FFFFFFF, freeze, thaw)


def _release() -> str:
    try:
        return version("spyhole")
    except PackageNotFoundError:
        return "0"
