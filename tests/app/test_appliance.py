"""The installer's own parts on a made-up machine; the whole of it is shown on a Debian that boots (make appliance)."""

import subprocess
import sys
from pathlib import Path

import pytest

from spyhole.app.appliance import boot, settle, trial
from spyhole.app.appliance.house import House
from spyhole.app.appliance.install import _pins
from spyhole.app.appliance.lean import lean
from spyhole.app.appliance.source import WHOLE, source_of
from spyhole.app.appliance.trial import Trial
from spyhole.core.refusal import Refusal

ROOT = Path(__file__).parents[2]
A_PI = "# from the factory\ndtparam=audio=on\n[pi4]\narm_boost=1\n"
EXPLAINED = '''"""Of kilns."""


class Kiln:
    """One."""

    def fire(self, cone):
        """To this cone."""
        assert cone, "no cone"
        return cone


class Empty:
    """Nothing but this."""


def idle():
    """Nor here."""


TEXT = """kept"""
'''


@pytest.fixture
def house(tmp_path: Path) -> House:
    house = House(tmp_path)
    for version in ("1-old", "2-new", "3-half"):
        (house.versions / version).mkdir(parents=True)
    for version in ("1-old", "2-new"):
        (house.versions / version / WHOLE).touch()
    house.wanted.mkdir(parents=True)
    for name in ("spyhole.service", "spyhole@raku.service", "spyhole-settle.service"):
        (house.wanted / name).symlink_to(f"../{name}")
    return house


def test_one_rename_puts_another_version_into_service(house: House) -> None:
    assert trial.in_service(house) == ""
    trial.switch(house, "1-old")
    trial.switch(house, "2-new")
    assert trial.in_service(house) == "2-new"
    assert (house.current / WHOLE).is_file()


def test_a_version_that_was_never_finished_is_not_taken(house: House) -> None:
    with pytest.raises(AssertionError):
        trial.switch(house, "3-half")


def test_the_one_in_service_and_the_one_before_stay(house: House) -> None:
    trial.prune(house, "2-new", "1-old")
    assert {path.name for path in house.versions.iterdir()} == {"1-old", "2-new"}


def test_a_trial_is_read_as_it_was_begun(house: House) -> None:
    begun = Trial("2-new", "1-old", ("spyhole", "spyhole@raku"))
    assert trial.read(house) is None
    trial.begin(house, begun)
    assert trial.read(house) == begun
    trial.end(house)
    assert trial.read(house) is None


def test_killed_before_the_rename_nothing_has_happened(house: House) -> None:
    trial.switch(house, "1-old")
    trial.begin(house, Trial("2-new", "1-old", ("spyhole",)))
    assert settle.settle(house) == 0
    assert trial.in_service(house) == "1-old"
    assert trial.read(house) is None


def test_killed_after_the_rename_back_the_old_one_is_started_and_the_ill_one_gone(
    house: House, monkeypatch: pytest.MonkeyPatch
) -> None:
    asked: list[tuple[str, ...]] = []
    monkeypatch.setattr(settle, "systemctl", lambda *words: asked.append(words))
    trial.switch(house, "1-old")
    trial.begin(house, Trial("2-new", "1-old", ("spyhole",), back=True))
    assert settle.settle(house) == 1
    assert ("start", "--no-block", "spyhole") in asked
    assert trial.read(house) is None
    assert {path.name for path in house.versions.iterdir()} == {"1-old", "3-half"}


def test_the_one_in_service_is_never_dropped(house: House) -> None:
    trial.switch(house, "1-old")
    with pytest.raises(AssertionError):
        trial.drop(house, "1-old")


def test_kilns_are_those_started_with_the_machine_each_with_its_own_place(house: House) -> None:
    assert house.kilns() == ("spyhole", "spyhole@raku")
    assert house.config("spyhole") == house.settings / "spyhole.toml"
    assert house.config("spyhole@raku") == house.settings / "raku/spyhole.toml"
    house.config("spyhole@raku").parent.mkdir(parents=True)
    house.config("spyhole@raku").write_text('data = "/var/lib/spyhole/raku"\nport = 8421\nlisten = "0.0.0.0"\n')
    assert house.data_of("spyhole@raku") == Path("/var/lib/spyhole/raku")
    assert house.page("spyhole@raku") == ("127.0.0.1", 8421)
    assert house.page("spyhole") == ("127.0.0.1", 8420)


def test_every_chip_select_of_every_kiln_is_held_up_from_power_on(house: House) -> None:
    """Of amplifiers and of the converter of current transformers: one that is selected talks into the others."""
    assert _pins(house) == boot.PINS, "the usual ones while none are named"
    house.settings.mkdir(parents=True)
    (house.settings / "spyhole.toml").write_text(
        "[[probe]]\nchip_select = 5\n[[probe]]\nchip_select = 6\n[current]\nchip_select = 8\n"
    )
    (house.settings / "raku").mkdir()
    (house.settings / "raku/spyhole.toml").write_text("[[probe]]\nchip_select = 16\n")
    (house.settings / "sick").mkdir()
    (house.settings / "sick/spyhole.toml").write_text("[[probe]]\n")
    assert _pins(house) == (5, 6, 8, 16)
    assert "gpio=5,6,8,16=op,dh" in boot.wanted(_pins(house))


def test_a_boot_file_gets_what_it_lacks_for_every_pi_and_only_once() -> None:
    lines = boot.wanted((5, 6), "ds3231")
    changed = boot.with_lines(A_PI, lines)
    assert changed.startswith(A_PI)
    assert changed.removeprefix(A_PI).split("[all]\n")[1].splitlines() == list(lines)
    assert "gpio=5,6=op,dh" in lines
    assert boot.with_lines(changed, lines) == changed


def test_a_line_that_holds_for_one_pi_only_is_no_line_for_all() -> None:
    text = "[pi4]\ndtparam=spi=on\n"
    assert boot.with_lines(text, ("dtparam=spi=on",)).endswith("[all]\ndtparam=spi=on\n")
    assert boot.with_lines("dtparam=spi=on\n[pi4]\n", ("dtparam=spi=on",)) == "dtparam=spi=on\n[pi4]\n"


def test_what_would_change_is_shown_and_what_was_there_is_kept(tmp_path: Path) -> None:
    path = tmp_path / "config.txt"
    path.write_text(A_PI)
    changed = boot.with_lines(A_PI, boot.wanted())
    assert "+dtoverlay=spi0-0cs\n" in boot.difference(path, changed)
    assert boot.apply(path, changed).read_text() == A_PI
    assert path.read_text() == changed
    assert boot.difference(path, changed) == ""
    assert boot.apply(path, A_PI).name.endswith("-2"), "the first copy is never written over"


def test_a_clock_module_nobody_knows_is_refused() -> None:
    with pytest.raises(Refusal, match="ds3231"):
        boot.wanted((5,), "sundial")


def test_a_checkout_and_a_wheel_are_known_by_their_content(tmp_path: Path) -> None:
    assert source_of(ROOT) == source_of(ROOT)
    wheel = tmp_path / "spyhole-0.1.0-py3-none-any.whl"
    wheel.write_bytes(b"one")
    first = source_of(wheel)
    wheel.write_bytes(b"another")
    assert first.version == "0.1.0"
    assert source_of(wheel).id != first.id
    with pytest.raises(Refusal, match="neither"):
        source_of(tmp_path)


def test_a_library_is_loaded_without_its_docstrings_and_with_all_else(tmp_path: Path) -> None:
    package = tmp_path / "explained"
    package.mkdir()
    (package / "__init__.py").write_text(EXPLAINED)
    (package / "broken.py").write_text("def not python\n")
    assert lean(package) == 1

    def asked(words: str) -> str:
        ask = (sys.executable, "-c", f"import sys; sys.path.insert(0, {str(tmp_path)!r}); import explained; {words}")
        return subprocess.run(ask, capture_output=True, text=True, check=False).stdout.strip()

    seen = "[one.__doc__ for one in (explained, explained.Kiln, explained.Kiln.fire, explained.Empty, explained.idle)]"
    assert asked(f"print({seen})") == str([None] * 5)
    assert asked("print(explained.Kiln().fire(3), explained.idle(), explained.TEXT)") == "3 None kept"
    blame = "import traceback\ntry: explained.Kiln().fire(0)\nexcept AssertionError: print(traceback.format_exc())"
    assert "line 9, in fire" in asked(f"exec({blame!r})"), "asserts hold, and say where"

    (package / "__init__.py").write_text(f"{EXPLAINED}\nMORE = 1\n")
    assert asked("print(explained.MORE, explained.__doc__)") == "1 Of kilns.", "a library that is changed is read anew"
