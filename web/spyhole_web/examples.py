"""Examples for the interface's description: an evening at Puffin, made up. tests/web holds them to their shapes."""

from typing import Any

Example = dict[str, Any]
Responses = dict[int | str, Example]

NOON = 1_793_354_400_000  # 30 October 2026, 10:00 UTC
MINUTE = 60_000


def _when(low: int, median: int, high: int) -> Example:
    return {"low": NOON + low * MINUTE, "median": NOON + median * MINUTE, "high": NOON + high * MINUTE}


def _ring(name: str, celsius: float, climb: float) -> Example:
    return {
        "name": name,
        "has_probe": True,
        "celsius": celsius,
        "seen_utc_ms": NOON,
        "climb": climb,
        "switch": "high",
        "switch_sure": name != "top",
        "fault": None,
    }


NOW: Example = {
    "kiln": "Puffin",
    "sequence": 41207,
    "now_utc_ms": NOON,
    "speed": 1.0,
    "tick_seconds": 1.0,
    "emulated": False,
    "zone": "Europe/London",
    "unit": "degC",
    "mood": "minded",
    "sentence": "Uneven, put aside until 10:18. On high since 10:02. Cone 05 should drop at 13:21.",
    "firing": {
        "id": 12,
        "plan": "Bisque, cone 05, overnight",
        "cone": "05",
        "stage": "high",
        "heating": True,
        "started_utc_ms": NOON - 780 * MINUTE,
        "stages": ["candling", "low", "medium", "high"],
        "stage_number": 4,
        "peak_celsius": 871.0,
        "cone_celsius": 1046.0,
    },
    "rings": [_ring("bottom", 852.4, 108.0), _ring("middle", 864.9, 112.0), _ring("top", 871.0, 117.0)],
    "reference_ring": "middle",
    "cones": [
        {"role": "guide", "cone": "06", "bend_degrees": 8.4, "words": "upright"},
        {"role": "firing", "cone": "05", "bend_degrees": 8.1, "words": "upright"},
        {"role": "guard", "cone": "04", "bend_degrees": 8.0, "words": "upright"},
    ],
    "ceiling_celsius": 1060.0,
    "alarms": [],
    "shelved": [
        {
            "tag": "uneven",
            "ring": None,
            "priority": "medium",
            "seen": "Uneven. The bottom ring is 38 behind the top.",
            "holds": True,
            "since_utc_ms": NOON - 12 * MINUTE,
            "until_utc_ms": NOON + 18 * MINUTE,
            "reason": "Looked: the bottom shelf is full, the top one empty",
            "who": "Mina",
        }
    ],
    "out_of_service": [],
    "duty": {
        "holder": "Mina",
        "note": "Medium since six. Top plug is in.",
        "taken_utc_ms": NOON - 200 * MINUTE,
        "reached_by": "Mina",
        "reached_utc_ms": NOON - 30 * MINUTE,
        "asked": None,
    },
    "next": {
        "words": "Wind the timer to 3 h 50 min.",
        "why": "As it is wound now it ends 40 minutes before cone 05.",
        "at": None,
        "turn": [],
    },
    "cone_down": _when(192, 201, 213),
    "shut_off": _when(190, 203, 220),
    "timer": {
        "ends_utc_ms": NOON + 160 * MINUTE,
        "advised_minutes": 230,
        "gap": "The timer ends about 40 minutes before the cone.",
    },
    "cool": [[200, _when(900, 960, 1030)], [100, None], [50, None]],
    "entries": [
        {
            "sequence": 40011,
            "utc_ms": NOON - MINUTE,
            "words": "Top turned to high",
            "who": "Mina",
            "undone": False,
            "photo": None,
        }
    ],
    "conditions": [],
    "panel": None,
    "room": None,
    "turn_asked": {
        "question": 41021,
        "words": "The curve says that the top ring went to high at about 11:40; nobody wrote it down. Was it so?",
        "since_utc_ms": NOON,
        "at_utc_ms": NOON - 20 * MINUTE,
    },
}

CURVE: Example = {
    "firing": 12,
    "utc_ms": [NOON - MINUTE, NOON],
    "rings": {"bottom": [850.6, 852.4], "middle": [863.0, 864.9], "top": [869.1, None]},
    "ceiling": [1060.0, 1060.0],
    "marks": [{"utc_ms": NOON - MINUTE, "kind": "entry", "words": "Top turned to high"}],
    "expected": {"utc_ms": [NOON - 10 * MINUTE, NOON], "low": [800.0, 818.5], "high": [892.0, 911.0]},
    "cristobalite": False,
}

BOOK: Example = {
    "firings": [
        {
            "id": 11,
            "plan": "Bisque, cone 05, overnight",
            "cone": "05",
            "started_utc_ms": NOON - 14_000 * MINUTE,
            "ended_utc_ms": NOON - 11_000 * MINUTE,
            "tripped_utc_ms": NOON - 13_000 * MINUTE,
            "peak_celsius": 1034.0,
            "cone_progress": 1.04,
            "alarms": 0,
        }
    ],
    "total": 1,
}

DONE: Example = {"sequence": 41208, "stored": True}


def answer(example: Example) -> Responses:
    """The description of a good answer."""
    return {200: {"description": "As it stands.", "content": {"application/json": {"example": example}}}}


STREAM: Responses = {
    200: {
        "description": "A stream that ends when the daemon stops. Comments keep it open; open it again when it ends.",
        "content": {"text/event-stream": {"schema": {"type": "string"}, "example": "event: now\ndata: {...}\n\n"}},
    }
}
