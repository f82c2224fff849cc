"""Every alarm is declared whole."""

import pytest

from spyhole.core.alarms.catalogue import CATALOGUE, TROUBLE_OF, Declaration
from spyhole.core.alarms.rules.probes import PROBE_TAGS
from spyhole.core.words import alarm_title, seen

FORBIDDEN = ("protect", "prevent", "fail-safe", "guarantee", "!")


@pytest.mark.parametrize("declared", CATALOGUE.values(), ids=lambda d: d.tag)
def test_an_alarm_says_its_cause_its_consequence_and_the_first_thing_to_do(declared: Declaration) -> None:
    assert declared.cause.endswith(".")
    assert declared.consequence.endswith(".")
    assert declared.first.endswith(".")
    assert declared.respond_minutes > 0
    assert declared.again_minutes > 0
    assert declared.off_delay_seconds > 0
    assert declared.family in TROUBLE_OF
    assert not any(word in (declared.first + declared.cause + declared.consequence).lower() for word in FORBIDDEN)
    assert alarm_title(declared.tag, "top")


def test_every_way_a_probe_fails_has_its_declaration() -> None:
    assert set(PROBE_TAGS) <= set(CATALOGUE)


@pytest.mark.parametrize("tag", PROBE_TAGS)
def test_a_probe_alarm_names_its_ring(tag: str) -> None:
    assert "top" in seen(tag, "top", (("celsius", 31.0), ("from", 640.0)))
