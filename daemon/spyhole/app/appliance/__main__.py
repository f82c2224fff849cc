"""Run by the machine's own python3, where nothing is installed yet: python3 -m spyhole.app.appliance install."""

import argparse
import sys

from spyhole.app.appliance.commands import fill
from spyhole.core.refusal import Refusal

if __name__ == "__main__":
    words = argparse.ArgumentParser(prog="spyhole appliance", description="Puts spyhole into service on this machine.")
    fill(words)
    wish = words.parse_args()
    try:
        sys.exit(wish.run(wish))
    except Refusal as refusal:
        print(f"spyhole: {refusal}", file=sys.stderr)
        sys.exit(2)
