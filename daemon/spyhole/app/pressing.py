"""The press, in a process of its own: a report comes in by standard input, its page goes out.

What draws weighs as much as half a watch, and is gone again with its process. Only our own process starts this.
"""

import pickle
import sys

from spyhole.reports.press import press


def main() -> None:
    """One report."""
    report, form, manner, paper = pickle.load(sys.stdin.buffer)  # noqa: S301  (from the process that started this one)
    sys.stdout.buffer.write(press(report, form, manner, paper))


if __name__ == "__main__":
    main()
