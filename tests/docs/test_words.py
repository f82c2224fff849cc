"""What people read: commands that exist, files that read, pictures, links, the caution, and the voice."""

import argparse
import ast
import re
from pathlib import Path
from urllib.parse import unquote

import pytest

from spyhole.app import commands
from spyhole.app.settings import read_settings
from spyhole.core.forms.entries_csv import HEADER, entries
from spyhole.core.forms.readings_csv import header_line, readings

ROOT = Path(__file__).parents[2]
README = (ROOT / "README.md").read_text()
DEVELOPERS = (ROOT / "DEVELOPERS.md").read_text()
DOCUMENTS = ("README.md", "DEVELOPERS.md", "CHANGELOG.md")
SOURCES = ("daemon/spyhole", "hardware/spyhole_hardware", "web/spyhole_web")
STATIC = ROOT / "web/spyhole_web/static"
HANDBOOK = {path.name: path.read_text() for path in sorted((ROOT / "web/spyhole_web/handbook").glob("*.md"))}
PAGE = sorted(path for path in STATIC.glob("*") if path.suffix in (".html", ".js", ".css", ".svg"))

CAUTION = (
    "WARNING: not a safety device. spyhole observes and sends messages. Messages may be late, lost or wrong. "
    "Never rely on it to prevent fire, injury or damage. Have an independent over-temperature cut-out with its "
    "own sensor and manual reset fitted by a licensed electrician, and test it. Do not leave a firing unattended "
    "because spyhole is running. Silence does not mean safe."
)
CLAIMS = (
    r"not a safety device",
    r"late,? lost or wrong",
    r"independent over-temperature cut-out,? with its own sensor and manual reset",
    r"fitted by a licensed electrician, and test it",
    r"firing (unattended|alone) because spyhole is running",
    r"silence does not mean safe",
)
FORBIDDEN = re.compile(r"\b(protects|prevents|fail-?safe|guarantees?|guaranteed)\b", re.IGNORECASE)
"""Words that claim what an aid cannot hold (IEC 60730 tells controls not relied on for safety from those that are)."""
SHOUT = re.compile(r"\w+['\")]?!(?![=\[])(?=[\s\"'`<]|$)")
"""A word and an exclamation mark; not the `!important` of a style sheet or the `!==` of a script."""
SAYS_NEVER = re.compile(r"never write that [^.]*\.", re.IGNORECASE)


def flat(text: str) -> str:
    """One line, without quote marks or tags."""
    return " ".join(re.sub(r"<[^>]+>|^> ?", " ", text, flags=re.MULTILINE).split())


def subcommands() -> dict[str, argparse.ArgumentParser]:
    parser = commands._parser()
    (made,) = [action for action in parser._actions if isinstance(action, argparse._SubParsersAction)]
    return made.choices


def options_of(parser: argparse.ArgumentParser) -> set[str]:
    """Its options, and those of its acts."""
    inner = [act for action in parser._actions if isinstance(action, argparse._SubParsersAction)
             for act in action.choices.values()]  # fmt: skip
    return set(parser._option_string_actions).union(*(options_of(act) for act in inner))


# Commands


COMMAND_LINES = [
    line.split("#")[0].strip()
    for text in (README, DEVELOPERS, *HANDBOOK.values())
    for line in [*re.findall(r"^ {4}(.*)$", text, re.MULTILINE), *re.findall(r"`([^`\n]+)`", text)]
]
SPYHOLE = sorted({line for line in COMMAND_LINES if re.match(r"(\.venv/bin/)?spyhole [a-z]", line)})
MAKE = sorted({target for line in COMMAND_LINES if re.match(r"make [a-z]", line) for target in line.split()[1:2]})


def test_the_documents_name_the_commands_there_are() -> None:
    assert {"run", "test"} <= set(MAKE)
    named = {line.removeprefix(".venv/bin/").split()[1] for line in SPYHOLE}
    assert {"watch", "rehearse", "replay", "check"} <= named


@pytest.mark.parametrize("target", MAKE)
def test_a_make_target_exists_and_says_what_it_is_for(target: str) -> None:
    assert re.search(rf"^{target}: ## \w", (ROOT / "Makefile").read_text(), re.MULTILINE)


@pytest.mark.parametrize("line", SPYHOLE)
def test_a_spyhole_command_and_its_options_exist(line: str, capsys: pytest.CaptureFixture[str]) -> None:
    name, *words = line.removeprefix(".venv/bin/").split()[1:]
    assert name in subcommands(), f"there is no spyhole {name}"
    known = options_of(subcommands()[name])
    assert [word for word in words if word.startswith("--") and word not in known] == []
    with pytest.raises(SystemExit) as left:
        commands.main([name, "--help"])
    assert left.value.code == 0
    assert "example, in the Tern Street Clay Room:" in capsys.readouterr().out


def test_a_line_of_the_documents_is_understood_as_it_stands() -> None:
    parser = commands._parser()
    text = README + "".join(HANDBOOK.values())
    lines = [line for line in SPYHOLE if f"    {line}" in text and " --" in line]
    assert len(lines) >= 5
    for line in lines:
        parser.parse_args(line.removeprefix(".venv/bin/").split()[1:])


# Files


@pytest.fixture
def studio(tmp_path: Path) -> Path:
    """A folder as the README tells a potter to make it."""
    for block in re.findall(r"^```toml\n# (\S+)\n(.*?)^```", README, re.DOTALL | re.MULTILINE):
        (tmp_path / block[0]).write_text(block[1])
    (tmp_path / "spyhole.toml").write_text((ROOT / "systemd/spyhole.example.toml").read_text())
    return tmp_path


def test_the_files_of_the_readme_go_with_the_example_settings(studio: Path) -> None:
    settings = read_settings(studio / "spyhole.toml")
    assert settings.kiln.name == "Puffin"
    assert settings.plan.cone == "06"
    assert settings.plan.stages[-1].until_cone


def test_one_probe_on_three_rings_is_enough(studio: Path) -> None:
    kiln = (studio / "puffin.toml").read_text().splitlines()
    probes = [number for number, line in enumerate(kiln) if line.startswith("probe")]
    (studio / "puffin.toml").write_text("\n".join(line for n, line in enumerate(kiln) if n not in probes[::2]))
    text, wires = re.split(r"(?=\[\[probe]])", (studio / "spyhole.toml").read_text(), maxsplit=1)
    middle = next(wire for wire in re.split(r"(?=\[\[probe]])", wires) if '"middle"' in wire)
    (studio / "spyhole.toml").write_text(text + middle)
    settings = read_settings(studio / "spyhole.toml")
    assert settings.kiln.probe_rings == (1,)
    assert len(settings.kiln.rings) == 3


def test_the_lines_of_a_replays_files_are_taken(studio: Path) -> None:
    settings = read_settings(studio / "spyhole.toml")
    told = flat(HANDBOOK["record.md"])
    header = re.search(r"begins `(time,[a-z,]+)`, with times like `([^`]+)`", told)
    noted = re.search(r"begins `(time,kind[a-z,]+)`, with lines like `([^`]+)`", told)
    assert header is not None
    assert noted is not None
    assert header_line(settings.kiln).startswith(header[1])
    assert len(list(readings([f"{header[1]}\n", f"{header[2]},15,15,15\n"], "friday.csv", settings.kiln))) == 1
    assert noted[1] == HEADER
    assert len(entries([f"{noted[1]}\n", f"{noted[2]}\n"], "notes.csv", settings.kiln, settings.plan)) == 1


@pytest.mark.parametrize(
    "button", ["Make ready and light it", "All seen to. It is lit", "Done", "Reset, it is mended", "Acknowledge"]
)
def test_a_button_that_is_named_is_on_the_page(button: str) -> None:
    assert f"**{button}**" in HANDBOOK["page.md"]
    scripts = "".join(path.read_text() for path in (ROOT / "web/spyhole_web/static").glob("*.js"))
    assert f'"{button}"' in scripts


# Pictures and links


LINKS = sorted(
    {
        (document, link)
        for document in DOCUMENTS
        for pattern in (r"\]\(([^)\s]+)\)", r'<img[^>]+src="([^"]+)"')
        for link in re.findall(pattern, (ROOT / document).read_text())
        if "://" not in link
    }
)


def test_the_readme_shows_the_page() -> None:
    assert {("README.md", "web/picture/now-phone.png"), ("README.md", "web/picture/now-desk.png")} <= set(LINKS)


@pytest.mark.parametrize(("document", "link"), LINKS)
def test_a_link_leads_somewhere(document: str, link: str) -> None:
    path, _, anchor = link.partition("#")
    target = ROOT / (unquote(path) or document)
    assert target.is_file(), f"{document} links to {link}, which is not there"
    if anchor:
        heads = re.findall(r"^#+ (.+)$", target.read_text(), re.MULTILINE)
        assert anchor in {re.sub(r"[^\w -]", "", head.lower()).replace(" ", "-") for head in heads}


@pytest.mark.parametrize("picture", [link for _, link in LINKS if link.endswith(".png")])
def test_a_picture_is_a_picture(picture: str) -> None:
    head = (ROOT / picture).read_bytes()[:24]
    assert head[:8] == b"\x89PNG\r\n\x1a\n"
    assert int.from_bytes(head[16:20]) >= 390


# Voice


def test_the_caution_stands_early_in_the_readme_in_its_own_words() -> None:
    first, _, _ = README.partition("\n## ")
    assert CAUTION in flat(first)


@pytest.mark.parametrize("claim", CLAIMS)
def test_the_page_carries_each_claim_of_the_caution(claim: str) -> None:
    assert re.search(claim, CAUTION, re.IGNORECASE)
    assert re.search(claim, flat((STATIC / "page.html").read_text()), re.IGNORECASE)


def said(path: Path) -> list[str]:
    """The text of a document or page, or each string of a Python file that is no docstring."""
    text = path.read_text()
    if path.suffix != ".py":
        return [text]
    tree = ast.parse(text)
    silent = {
        id(node.value) for node in ast.walk(tree) if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant)
    }
    return [
        node.value
        for node in ast.walk(tree)
        if isinstance(node, ast.Constant) and isinstance(node.value, str) and id(node) not in silent
    ]


SAID = [
    *(ROOT / document for document in DOCUMENTS),
    *(ROOT / "web/spyhole_web/handbook" / name for name in HANDBOOK),
    ROOT / "systemd/spyhole.example.toml",
    ROOT / "systemd/install",
    *PAGE,
    *(path for source in SOURCES for path in sorted((ROOT / source).rglob("*.py"))),
]


def place(path: Path) -> str:
    return str(path.relative_to(ROOT))


@pytest.mark.parametrize("path", SAID, ids=place)
def test_nothing_is_claimed_that_an_aid_cannot_hold(path: Path) -> None:
    assert [found[0] for text in said(path) for found in FORBIDDEN.finditer(SAYS_NEVER.sub("", text))] == []


@pytest.mark.parametrize("path", SAID, ids=place)
def test_nobody_is_shouted_at(path: Path) -> None:
    assert [found[0] for text in said(path) for found in SHOUT.finditer(text)] == []


def test_the_voice_can_be_caught_out(tmp_path: Path) -> None:
    slip = tmp_path / "slip.py"
    slip.write_text('"""A docstring that guarantees!"""\nWORDS = "It protects the kiln. Look now!"\n')
    (text,) = said(slip)
    assert FORBIDDEN.search(text)
    assert SHOUT.search(text)
