"""The amplifier's driver, without the boards it could run on.

For two names in its annotations it imports what knows of some two hundred boards and looks which one this is. A watch
is spared that, a MiB: it finds the two names, and nothing behind them. Who has those modules already keeps them.
"""

import sys
from types import ModuleType

_NAMES = {"busio": "SPI", "digitalio": "DigitalInOut"}


def _bare(module: str, name: str) -> ModuleType:
    made = ModuleType(module, "Of this name only annotations are made.")
    setattr(made, name, type(name, (), {}))
    return made


_put = {module: _bare(module, name) for module, name in _NAMES.items() if module not in sys.modules}
sys.modules.update(_put)
try:
    from adafruit_max31856 import MAX31856
finally:
    for _module in _put:
        del sys.modules[_module]

__all__ = ["MAX31856"]
