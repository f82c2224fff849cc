"""Fault 8, the sampler's part: a reading is taken in while a channel hangs, and nothing of it waits for an answer.

How evenly readings come then is measured by `make bench`; here it is the order of things that cannot be otherwise.
"""

import threading
import time
from pathlib import Path
from typing import Any

from spyhole.app.codec import codec
from spyhole.core.words import Manner
from spyhole.services.conditions import Conditions
from spyhole.services.courier import Courier
from spyhole.services.studio import Studio
from spyhole.services.telling import Telling
from spyhole.services.watchkeeper import Watchkeeper
from spyhole.store.archive import open_archive

HANGS_SECONDS = 400


def test_fault_8_readings_are_taken_in_while_a_channel_hangs(tools: Any, kiln: Any, plan: Any, tmp_path: Path) -> None:
    clock, asked, let_go = tools.clock(), threading.Event(), threading.Event()

    def hangs(_: str) -> bool:
        asked.set()
        let_go.wait(HANGS_SECONDS)
        return True

    conditions = Conditions(lambda: clock.now().utc_ms)
    record = open_archive(tmp_path / "record", seconds=time.monotonic, tell=conditions.told)
    channel = tools.channel(hangs)
    telling = Telling([Courier("studio", channel, record, conditions)])
    keeper = Watchkeeper(Studio(kiln, plan, "", "", Manner(), 10.0), clock, record, telling, conditions, codec())
    keeper.recover()
    telling.start([])
    try:
        keeper.enter("start", "", "06", "Ruth")
        celsius = 20.0
        while not keeper.keeping.told:
            clock.ms += 10_000
            celsius += 3
            keeper.take(tools.reading(round(celsius * 128) / 128))
            assert celsius < 1400
        assert asked.wait(HANGS_SECONDS / 2)
        for _ in range(200):
            clock.ms += 10_000
            keeper.take(tools.reading(round(celsius * 128) / 128))
            keeper.escalate()
        assert keeper.state.line.now_ms >= 2_000_000
        assert channel.sent == [], "it still hangs, and every reading is in"
    finally:
        let_go.set()
        telling.stop()
        keeper.close()
        assert record.close(30.0)
