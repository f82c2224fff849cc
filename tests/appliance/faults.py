"""Faults that the installed service has to bear."""

from box import Box, Outcomes


def prove(box: Box, outcomes: Outcomes) -> None:
    """One line each."""
