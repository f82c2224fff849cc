"""The command line: help that helps, and one sentence for what cannot be done."""

import subprocess
import sys
from pathlib import Path
from typing import Any

import pytest

from spyhole.app.commands import TROUBLE_WORDS, main
from spyhole_hardware.emulated.troubles import TROUBLES

COMMANDS = ["watch", "rehearse", "replay", "check", "cones"]

HEAD = "time,bottom,middle,top\n"
NOTED = "time,kind,subject,value\n"
AT = "2031-10-30T19:41:39Z"

BAD = [
    # what is wrong, which file, its new text (None: removed), what the sentence says
    ("wrong header", "friday.csv", "when,bottom,middle,top\n2031-10-30T19:41:39Z,1,2,3\n", "friday.csv line 1"),
    ("a column missing", "friday.csv", "time,bottom,middle\n2031-10-30T19:41:39Z,1,2\n", "the column 'top' is missing"),
    ("text for a number", "friday.csv", f"{HEAD}{AT},hot,2,3\n", "line 2, bottom: 'hot'"),
    ("no time", "friday.csv", f"{HEAD}yesterday,1,2,3\n", "line 2, time: 'yesterday' is not a time"),
    ("no zone", "friday.csv", f"{HEAD}{AT[:-1]},1,2,3\n", "is not a time"),
    ("1e9 degC", "friday.csv", f"{HEAD}{AT},1e9,2,3\n", "no probe reads '1e9' degC"),
    ("not a number", "friday.csv", f"{HEAD}{AT},nan,2,3\n", "no probe reads 'nan'"),
    ("a cell too many", "friday.csv", f"{HEAD}{AT},1,2,3,4\n", "it has 5 cells"),
    ("a fault nobody knows", "friday.csv", f"{HEAD[:-1]},top_fault\n{AT},1,2,3,sad\n", "'sad'"),
    ("empty", "friday.csv", "", "friday.csv line 1: the file is empty"),
    ("only a header", "friday.csv", f"{HEAD}", "friday.csv line 2: there is no reading"),
    ("another program's", "friday.csv", "Date;Time;Temp 1\n30/10/2031;19:41;15,1\n", "(columns are parted by commas"),
    ("bytes", "friday.csv", "\x00\x01\x02", "friday.csv line 1"),
    ("no readings file", "friday.csv", None, "friday.csv: the readings file cannot be read (No such file"),
    ("an unknown ring", "friday-entries.csv", f"{NOTED}{AT},switch,attic,low\n", "'attic'"),
    ("an unknown kind", "friday-entries.csv", f"{NOTED}{AT},dance,,\n", "line 2, kind"),
    ("an entry's header", "friday-entries.csv", "when,what\n", "friday-entries.csv line 1: the header reads"),
    ("an unknown key", "puffin.toml", 'name = "Puffin"\ncolour = "red"\n', "puffin.toml, colour: there is no such key"),
    ("a kiln that is no TOML", "puffin.toml", "name: Puffin\n", "puffin.toml line 1: this is not TOML"),
    ("an empty kiln", "puffin.toml", "", "puffin.toml line 1: the file is empty"),
    ("no kiln file", "puffin.toml", None, "puffin.toml: the kiln file cannot be read"),
    ("an empty plan", "bisque-05.toml", "", "bisque-05.toml line 1: the file is empty"),
    ("a plan of another form", "bisque-05.toml", '{"cone": "05"}', "bisque-05.toml line 1: this is not TOML"),
]  # fmt: skip


def replay_of(files: Any, *more: str) -> list[str]:
    named = ["--kiln", str(files.kiln), "--plan", str(files.plan), "--entries", str(files.entries)]
    return ["replay", str(files.readings), *named, *more]


def one_sentence(capsys: pytest.CaptureFixture[str]) -> str:
    shown = capsys.readouterr().err
    assert shown.count("\n") == 1, shown
    assert "Traceback" not in shown
    return shown


@pytest.mark.parametrize(("file", "text", "words"), [b[1:] for b in BAD], ids=[b[0] for b in BAD])
def test_bad_input_to_replay_is_one_sentence(
    files: Any, capsys: pytest.CaptureFixture[str], file: str, text: str | None, words: str
) -> None:
    if text is None:
        (files.folder / file).unlink()
    else:
        files.set(text, file)
    out = files.folder / "said.jsonl"
    assert main(replay_of(files, "--out", str(out))) == 2
    assert words in one_sentence(capsys)
    assert not out.exists()
    assert list(files.folder.glob("*.part")) == []


def test_a_cone_that_melts_the_clay_is_refused(files: Any, capsys: pytest.CaptureFixture[str]) -> None:
    files.set(files.plan.read_text().replace('cone = "05"', 'cone = "5"'), "bisque-05.toml")
    assert main(replay_of(files)) == 2
    sentence = one_sentence(capsys)
    assert "bisque-05.toml, " in sentence
    assert "cone" in sentence


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        (["watch", "--config", "FOLDER/none.toml"], "none.toml: the settings file cannot be read"),
        (["check", "--config", "FOLDER/none.toml"], "none.toml: the settings file cannot be read"),
        (["replay"], "readings, kiln and plan are needed"),
        (["replay", "FOLDER/friday.csv"], "readings, kiln and plan are needed"),
        (["replay", "FOLDER/friday.csv", "--journal", "FOLDER"], "a record carries its own kiln"),
        (["replay", "--journal", "FOLDER"], "there is no record here"),
        (["replay", "--journal", "FOLDER", "--zone", "Europe/Atlantis"], "'Europe/Atlantis' is no time zone"),
        (["rehearse", "--data", "FOLDER/r", "--lit", "noon"], "'noon' is no time"),
        (["rehearse", "--data", "FOLDER/r", "--tell", "nowhere"], "--tell: a message cannot be sent"),
    ],
)
def test_what_cannot_be_done_is_one_sentence(
    files: Any, capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    assert main([a.replace("FOLDER", str(files.folder)) for a in arguments]) == 2
    assert words in one_sentence(capsys)


@pytest.mark.parametrize(
    ("arguments", "words"),
    [
        ([], "COMMAND"),
        (["dance"], "'dance'"),
        (["rehearse", "--speed", "0"], "'0' cannot be; it is a number from 1 to 3600"),
        (["rehearse", "--speed", "nan"], "cannot be"),
        (["rehearse", "--port", "70000"], "it is a whole number from 0 to 65535"),
        (["rehearse", "--sample-seconds", "0.2"], "it is a number from 1 to 30"),
        (["rehearse", "--trouble", "gremlins"], "shutoff-jams"),
        (["watch"], "--config"),
    ],
)
def test_a_line_that_makes_no_sense_names_what_does(
    capsys: pytest.CaptureFixture[str], arguments: list[str], words: str
) -> None:
    with pytest.raises(SystemExit) as left:
        main(arguments)
    assert left.value.code == 2
    assert words in capsys.readouterr().err


@pytest.mark.parametrize("command", COMMANDS)
def test_every_command_has_help_with_an_example_and_the_caution(
    capsys: pytest.CaptureFixture[str], command: str
) -> None:
    with pytest.raises(SystemExit) as left:
        main([command, "--help"])
    assert left.value.code == 0
    shown = capsys.readouterr().out
    assert f"  spyhole {command} " in shown
    assert "Tern Street Clay Room" in shown
    assert "no safety device" in shown


def test_the_troubles_of_the_command_line_are_those_of_the_kiln() -> None:
    assert tuple(trouble.name for trouble in TROUBLES) == TROUBLE_WORDS


HEAVY = {"sqlalchemy", "fastapi", "uvicorn", "apprise", "apscheduler", "alembic", "pydantic", "numpy", "scipy"}


@pytest.mark.parametrize("line", ["['--help']", "REPLAY"])
def test_help_and_a_replay_from_files_stay_light(files: Any, line: str) -> None:
    arguments = repr(replay_of(files, "--out", str(files.folder / "o"))) if line == "REPLAY" else line
    script = f"""
import sys
from spyhole.app.commands import main
try:
    main({arguments})
except SystemExit:
    pass
print(sorted({HEAVY!r} & set(sys.modules)), file=sys.stderr)
"""
    done = subprocess.run([sys.executable, "-c", script], capture_output=True, text=True, check=True)
    assert done.stderr.strip() == "[]"


def test_a_folder_that_holds_a_real_record_is_not_rehearsed_over(
    files: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    folder: Path = files.folder / "record"
    folder.mkdir()
    (folder / "spyhole.db").write_bytes(b"somebody's record")
    assert main(["rehearse", "--data", str(folder), "--fresh"]) == 2
    assert "this folder holds a record that is no rehearsal's" in one_sentence(capsys)
    assert (folder / "spyhole.db").read_bytes() == b"somebody's record"


def test_check_says_how_each_part_stands(files: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--config", str(files.settings)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert [line.split(":")[0].split()[-1] for line in lines] == [
        "settings", "record", "disk", "clock", "probes", "current", "room", "tell",
    ]  # fmt: skip
    assert all(line.startswith("ok") for line in lines)
    assert "bottom 1" in lines[4]


def test_check_says_what_each_ring_draws(files: Any, capsys: pytest.CaptureFixture[str]) -> None:
    files.set(
        files.settings.read_text()
        + '[current]\nchip_select = 8\n[[current.clamp]]\nring = "top"\ninput = 3\namperes_per_volt = 30\n'
    )
    assert main(["check", "--config", str(files.settings)]) == 0
    assert "ok       current: top 0.0 A; with every switch off each is 0" in capsys.readouterr().out


def test_check_says_what_is_wrong_and_leaves_with_1(files: Any, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["check", "--config", str(files.settings), "--message"]) == 1
    assert "wrong    message: tell: there is no address to send a message to" in capsys.readouterr().out
