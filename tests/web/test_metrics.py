"""The numbers for whoever collects them, by the grammar of the text form of Prometheus (version 0.0.4, from memory)."""

import re
from dataclasses import replace

from pydantic import TypeAdapter

from spyhole.services.snapshot import ConditionView, Snapshot
from spyhole_web import examples
from spyhole_web.metrics import HELP, exposition

NOW = TypeAdapter(Snapshot).validate_python(examples.NOW)
VALUE = r'"(?:[^"\\\n]|\\["\\n])*"'
SAMPLE = re.compile(rf"[a-z_]+\{{(?:[a-z_]+={VALUE})(?:,[a-z_]+={VALUE})*\}} -?[0-9.]+(?:e[+-][0-9]+)?")


def samples(text: str) -> list[str]:
    return [line for line in text.splitlines() if not line.startswith("#")]


def test_every_line_is_of_the_grammar() -> None:
    text = exposition(NOW, 0.4)
    assert text.endswith("\n")
    assert [line for line in samples(text) if not SAMPLE.fullmatch(line)] == []
    assert 'spyhole_ring_celsius{kiln="Puffin",ring="bottom"} 852.4' in samples(text)
    assert 'spyhole_silent_seconds{kiln="Puffin"} 0.4' in samples(text)


def test_each_figure_has_its_help_and_type_before_its_samples() -> None:
    lines = exposition(NOW, 0.4).splitlines()
    for name in HELP:
        at = lines.index(f"# TYPE {name} gauge")
        assert lines[at - 1].startswith(f"# HELP {name} ")
        assert all(lines.index(line) > at for line in lines if line.startswith(f"{name}{{"))


def test_a_ring_without_a_number_has_none() -> None:
    top = replace(NOW.rings[2], celsius=None, climb=None, seen_utc_ms=None, fault="no circuit")
    text = exposition(replace(NOW, rings=(*NOW.rings[:2], top)), 0.4)
    assert 'ring="top"' not in text


def test_what_stands_in_quotes_is_escaped() -> None:
    text = exposition(replace(NOW, kiln='Puf"fin\\\n', conditions=(ConditionView("watch-disk", 0, ""),)), 0.4)
    assert [line for line in samples(text) if not SAMPLE.fullmatch(line)] == []
    assert 'spyhole_watch_trouble{kiln="Puf\\"fin\\\\\\n",code="watch-disk"} 1' in samples(text)
