"""Emulated hardware: the chip down to its registers, and the kiln behind it."""
