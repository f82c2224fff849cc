"""`spyhole` with its bus and pins elsewhere: python bussed.py SOCKET LOCK GPIO CHIP and the words of the command.

spidev and gpiod are stand-ins that end at the emulated bus of another process; all else is the product.
"""

import sys
from types import SimpleNamespace

import gpiod
from sharing import FarDevice

from spyhole.app.commands import main
from spyhole_hardware import pi

if __name__ == "__main__":
    socket, lock, pin, chip, *words = sys.argv[1:]
    device = FarDevice(socket, lock, {int(pin): int(chip)})
    sys.modules["spidev"] = SimpleNamespace(SpiDev=lambda: device)  # type: ignore[assignment]
    pi.header_chip = lambda devices: "/dev/gpiochip0"
    gpiod.request_lines = lambda path, config, consumer: device  # type: ignore[assignment]
    sys.exit(main(words))
