"""One of two daemons that share a bus: the real reader on a PiBus whose device file is a socket to the emulated bus.

python sharing.py SOCKET LOCK CHIP TICKS: reads so often, and prints one line a tick, the number or the fault.
"""

import os
import sys
import time
from socket import AF_UNIX, socket

from gpiod.line import Value

from spyhole_hardware import turns
from spyhole_hardware.bus import Channel
from spyhole_hardware.max31856 import Max31856Probes
from spyhole_hardware.pi import PiBus, PiChipSelect


class FarDevice:
    """spidev.SpiDev and gpiod.LineRequest, their wires in another process. What is locked is a real file."""

    mode = 0
    max_speed_hz = 0

    def __init__(self, path: str, lock: str, chips: dict[int, int] | None = None) -> None:
        """chips: which chip is behind a GPIO number; without it, the chip's own number is asked for."""
        self._chips = chips
        self._lock = os.open(lock, os.O_RDONLY)
        self._socket = socket(AF_UNIX)
        self._socket.connect(path)
        self._answers = self._socket.makefile("rb")

    def ask(self, *words: object) -> bytes:
        self._socket.sendall((" ".join(map(str, words)) + "\n").encode())
        return bytes.fromhex(self._answers.readline().decode())

    def open(self, bus: int, device: int) -> None:
        pass

    def fileno(self) -> int:
        return self._lock

    def _configure(self) -> None:
        self.ask("configure", self.max_speed_hz, self.mode >> 1, self.mode & 1)

    def writebytes2(self, values: bytes) -> None:
        self._configure()
        self.ask("write", values.hex())

    def readbytes(self, n: int) -> list[int]:
        self._configure()
        return list(self.ask("read", n))

    def set_value(self, line: int, value: Value) -> None:
        self.ask("select", line if self._chips is None else self._chips[line], int(value is Value.ACTIVE))

    def release(self) -> None:
        pass

    def close(self) -> None:
        self._socket.close()


def main(path: str, lock: str, chip: int, ticks: int) -> None:
    turns.LONGEST_SECONDS = 20.0  # who has the bus may be stopped for as long as a busy machine likes
    device = FarDevice(path, lock)
    probes = Max31856Probes(
        PiBus(device), [Channel("middle", chip)], [PiChipSelect(device, chip)],
        mains_hertz=60, averaging=1, seconds=time.monotonic, wait=time.sleep,
    )  # fmt: skip
    for _ in range(ticks):
        device.ask("together")
        (reading,) = probes.read().probes
        print(reading.celsius if reading.fault is None else reading.fault, probes.bus_held, flush=True)


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2], int(sys.argv[3]), int(sys.argv[4]))
