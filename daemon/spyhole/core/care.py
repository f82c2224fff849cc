"""What is renewed, mended or found at a kiln between firings, and what that does to what is known of it."""

from enum import StrEnum


class Care(StrEnum):
    """The words of a maintenance entry."""

    ELEMENTS = "new elements"
    PROBE = "new probe"
    LID = "lid mended"
    SWITCH = "new switch"
    PLUG = "new plug"
    TUBE = "new shut-off tube"
    STIFF_SWITCH = "stiff switch"
    SCORCHED_PLUG = "scorched plug"
    BULGED_ELEMENT = "bulged element"


FOUND = (Care.STIFF_SWITCH, Care.SCORCHED_PLUG, Care.BULGED_ELEMENT)
"""What was found and left as it is: it explains a weaker ring, and asks for hands."""
