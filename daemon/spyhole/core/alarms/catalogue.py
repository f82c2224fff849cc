"""Every alarm, declared once: what it means and what to do first. The rules that judge it are in `rules`.

The words of an alarm's life are those of ISA-18.2 / IEC 62682. An alarm means somebody must act.
"""

from dataclasses import dataclass

from spyhole.core.outcome import Priority


@dataclass(frozen=True, slots=True)
class Declaration:
    """family: troubles of one family share an episode with their cause. latched: stays until reset by a person.

    cause, consequence: for the reader of the documents. first: what to do first, said in the message.
    respond_minutes: how long there is before it gets worse. on_delay_seconds, off_delay_seconds: how long the
    condition must hold, or be gone. again_minutes: an acknowledged alarm that still holds tells again after this.
    candling: the priority while candling, where it differs.
    """

    tag: str
    family: str
    priority: Priority
    latched: bool
    cause: str
    consequence: str
    first: str
    respond_minutes: int
    on_delay_seconds: int
    off_delay_seconds: int
    again_minutes: int
    candling: Priority | None = None

    def priority_when(self, candling: bool) -> Priority:
        """Its priority in this part of the firing."""
        return self.candling if candling and self.candling is not None else self.priority


_OFF_AND_ISOLATE = "All switches off; if it still heats, isolate at the wall. Leave the lid shut."
_PROBE_OTHERS = "Go by the other rings and by your cones. Look at the probe once the kiln is cold and isolated."

CATALOGUE: dict[str, Declaration] = {
    d.tag: d
    for d in (
        Declaration(
            "ceiling-passed",
            "overfire",
            Priority.HIGH,
            False,
            "A switch set too high, or the kiln was not shut off.",
            "Ware overfires; shelves and elements suffer.",
            "Look at the cones and every switch; firing cone down or unseen: all off.",
            10,
            60,
            120,
            20,
        ),
        Declaration(
            "kiln-limit",
            "overfire",
            Priority.HIGH,
            True,
            "The kiln was not shut off.",
            "Elements, bricks and load may be lost.",
            _OFF_AND_ISOLATE,
            5,
            20,
            120,
            10,
        ),
        Declaration(
            "guard-cone",
            "overfire",
            Priority.HIGH,
            True,
            "Heat work has gone well past the firing cone.",
            "Overfired ware; glaze may run onto shelves.",
            _OFF_AND_ISOLATE,
            5,
            60,
            120,
            10,
        ),
        Declaration(
            "shutoff-overdue",
            "overfire",
            Priority.HIGH,
            False,
            "The shut-off is jammed, or its cone sits wrongly.",
            "The load melts and the kiln may be wrecked.",
            _OFF_AND_ISOLATE,
            10,
            120,
            120,
            15,
        ),
        Declaration(
            "runaway",
            "runaway",
            Priority.HIGH,
            False,
            "A switch stands higher than it should.",
            "Damp ware bursts; glaze and body are hurried.",
            "Find the switch that is too high; if there is none, all off.",
            10,
            300,
            600,
            30,
        ),
        Declaration(
            "heat-lost",
            "heat_lost",
            Priority.HIGH,
            False,
            "Power, fuse, timer or shut-off.",
            "The firing stops; power may come back unwatched.",
            "All switches off, then read timer, shut-off and supply; never reset a breaker twice.",
            20,
            0,
            300,
            30,
            Priority.MEDIUM,
        ),
        Declaration(
            "fell-short",
            "underfire",
            Priority.HIGH,
            False,
            "The timer ran out, or the shut-off tripped early.",
            "Ware is not fired to its cone.",
            "If only the timer ran out, wind it and go on; "
            "if the shut-off tripped, switches off and read the cones cold.",
            20,
            0,
            300,
            60,
        ),
        Declaration(
            "blind",
            "probe",
            Priority.HIGH,
            True,
            "No probe that can be trusted is left.",
            "spyhole cannot see this kiln.",
            "Go by cones and clock; if you cannot see cones, all off.",
            10,
            60,
            120,
            20,
            Priority.MEDIUM,
        ),
        Declaration(
            "still-on",
            "still_on",
            Priority.HIGH,
            False,
            "A switch left on, a welded switch, or the shut-off armed again.",
            "The load goes on being fired.",
            "Switches off; a ring that still heats has a welded switch: isolate and call the electrician.",
            10,
            120,
            300,
            15,
        ),
        Declaration(
            "stall",
            "stall",
            Priority.MEDIUM,
            False,
            "A switch left low, a ring out, low mains, or a lid or plug open.",
            "The cone may never go down.",
            "Look at every switch, the plugs and the lid; then read the timer and the supply.",
            45,
            600,
            600,
            120,
        ),
        Declaration(
            "ring-behind",
            "uneven",
            Priority.MEDIUM,
            False,
            "An element or fuse gone, or that ring's switch left low.",
            "This ring's ware is underfired.",
            "Look at that ring's switch; if it is right, plan for a cool shelf there.",
            45,
            600,
            900,
            120,
        ),
        Declaration(
            "probe-open",
            "probe",
            Priority.MEDIUM,
            False,
            "A wire has broken or come loose.",
            "This ring is not seen.",
            _PROBE_OTHERS,
            30,
            15,
            120,
            240,
        ),
        Declaration(
            "probe-shorted",
            "probe",
            Priority.MEDIUM,
            False,
            "The probe's wires touch outside the kiln.",
            "This ring is not seen.",
            _PROBE_OTHERS,
            30,
            20,
            300,
            240,
        ),
        Declaration(
            "probe-stuck",
            "probe",
            Priority.MEDIUM,
            False,
            "The amplifier repeats itself.",
            "This ring is not seen.",
            _PROBE_OTHERS,
            30,
            20,
            300,
            240,
        ),
        Declaration(
            "probe-out",
            "probe",
            Priority.MEDIUM,
            False,
            "The probe has slipped or been pulled out.",
            "This ring is not seen; a bare hole lets heat out.",
            _PROBE_OTHERS,
            30,
            20,
            300,
            240,
        ),
        Declaration(
            "probe-reversed",
            "probe",
            Priority.MEDIUM,
            False,
            "The two wires are the wrong way round.",
            "This ring is not seen.",
            _PROBE_OTHERS,
            30,
            60,
            300,
            240,
        ),
        Declaration(
            "probe-doubtful",
            "probe",
            Priority.MEDIUM,
            False,
            "The probe has moved or is failing.",
            "Its number would mislead.",
            _PROBE_OTHERS,
            30,
            20,
            300,
            240,
        ),
        Declaration(
            "probe-noisy",
            "probe",
            Priority.MEDIUM,
            False,
            "A loose joint, or wires beside the mains.",
            "Its number would mislead.",
            _PROBE_OTHERS,
            30,
            120,
            600,
            240,
        ),
        Declaration(
            "chip-silent",
            "probe",
            Priority.MEDIUM,
            False,
            "The amplifier or its wiring does not answer.",
            "This ring is not seen.",
            "Go by the other rings and by your cones. Leave the wiring alone until the kiln is cold and isolated.",
            30,
            15,
            120,
            240,
        ),
        Declaration(
            "chip-forgot",
            "probe",
            Priority.MEDIUM,
            False,
            "The amplifier lost its supply for a moment and was set again.",
            "Numbers may be missing for a moment.",
            "Look whether the amplifier's supply is firm; the reading goes on.",
            60,
            0,
            600,
            240,
        ),
    )
}

TROUBLE_OF = {
    "overfire": "hot", "runaway": "hot", "still_on": "hot",
    "heat_lost": "cold", "underfire": "cold", "stall": "cold", "uneven": "cold",
    "probe": "sight",
}  # fmt: skip
"""Families that can be one trouble: consequences join the episode of their cause."""
