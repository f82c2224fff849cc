"""Examples of plans for the interface's description, made up. tests/web holds them to their shapes."""

from spyhole_web.examples import MINUTE, NOON, Example, Responses


def _stage(name: str, setting: str, **more: object) -> Example:
    return {"name": name, "switches": dict.fromkeys(("bottom", "middle", "top"), setting), **more}


PLAN: Example = {
    "name": "Bisque, cone 05, overnight",
    "cone": "05",
    "shutoff_cone": "05",
    "lowest_firing_clay_cone": "04",
    "ware": "bisque",
    "reference_ring": "middle",
    "stage": [
        {
            "name": "candling",
            "switches": {"bottom": "low", "middle": "off", "top": "off"},
            "plugs": "out",
            "hours": 9.0,
        },
        _stage("low", "low", plugs="half", hours=1.5),
        _stage("medium", "medium", plugs="in", hours=2.5),
        _stage("high", "high", until="cone"),
    ],
}
KEPT: Example = {"key": "bisque-cone-05-overnight", "version": 41208, "plan": PLAN}
SHELF: Example = {
    "kiln": "Puffin",
    "rings": ["bottom", "middle", "top"],
    "maximum_celsius": 1290.0,
    "cone_shutoff": True,
    "cones": ["06", "05", "04"],
    "plans": [KEPT],
}
OUTLOOK: Example = {
    "hours": [0.0, 9.0, 10.5, 13.0, 15.76],
    "rings": [
        {"name": "bottom", "celsius": [20.0, 167.0, 256.1, 549.0, 1035.3]},
        {"name": "middle", "celsius": [20.0, 91.2, 252.0, 560.3, 1045.1]},
        {"name": "top", "celsius": [20.0, 71.8, 245.5, 554.9, 1039.2]},
    ],
    "quick": {"hours": [0.0, 9.0, 15.35], "celsius": [20.0, 94.0, 1048.5]},
    "slow": {"hours": [0.0, 9.0, 16.24], "celsius": [20.0, 88.0, 1045.2]},
    "stages": [
        {"name": "candling", "from_hours": 0.0},
        {"name": "low", "from_hours": 9.0},
        {"name": "medium", "from_hours": 10.5},
        {"name": "high", "from_hours": 13.0},
    ],
    "down": {"low": 15.3, "likely": 15.7, "high": 16.17},
    "off": {"low": 15.35, "likely": 15.76, "high": 16.24},
    "timer_minutes": 1000,
    "known": True,
    "doubts": [{"field": "stage 1, plugs", "words": "The plugs are in while steam should leave damp ware."}],
    "lighting": {
        "light_utc_ms": NOON,
        "down_low_utc_ms": NOON + 921 * MINUTE,
        "down_high_utc_ms": NOON + 974 * MINUTE,
    },
}
START: Example = {
    "kiln": "Puffin",
    "begun_utc_ms": None,
    "heats_utc_ms": None,
    "now_utc_ms": NOON,
    "last": True,
    "key": "bisque-cone-05-overnight",
    "plan": PLAN,
    "prepared": {"damp": True, "seated": True, "rod_centred": True, "gap_millimetres": 4.8},
    "care": [],
}


def created(example: Example) -> Responses:
    """The description of a plan that was made."""
    return {201: {"description": "Kept.", "content": {"application/json": {"example": example}}}}
