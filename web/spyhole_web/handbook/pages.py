"""The pages of the handbook: Markdown files beside this one, made into HTML when somebody asks."""

import re
from dataclasses import dataclass
from functools import cache
from html import escape
from importlib.resources import files

from spyhole_web.handbook.narrow import tables

CONTENTS = (
    "start",
    "hardware",
    "first-firing",
    "page",
    "telling",
    "room",
    "morning",
    "safety",
    "words",
    "symptoms",
    "alarms",
    "conditions",
    "settings",
    "commands",
    "appliance",
    "record",
    "interface",
    "reckoning",
    "security",
    "asvs",
    "supply",
    "bench",
)
"""In the order somebody would read them; each is a file, and its first line its title."""

DRAWINGS = ("whole.svg", "probe.svg", "box.svg")
SLOT = "<!-- interface -->"
"""Where the addresses of the running page stand."""
HERE = ' aria-current="page"'
_PICTURE = re.compile(r'(<img [^>]*src=")([a-z]+\.svg)("[^>]*>)')
_LINK = re.compile(r'href="(?P<name>[a-z-]+)\.md(?P<anchor>#[^"]*)?"')


@dataclass(frozen=True, slots=True)
class Page:
    """One page. body: HTML of the article."""

    name: str
    title: str
    body: str


def source(name: str) -> str:
    """The Markdown of a page of CONTENTS."""
    return files(__package__).joinpath(f"{name}.md").read_text(encoding="utf-8")


def drawing(name: str) -> bytes:
    """One of DRAWINGS."""
    return files(__package__).joinpath(name).read_bytes()


def title(name: str) -> str:
    """What a page is called."""
    return source(name).partition("\n")[0].removeprefix("# ")


@cache
def page(name: str) -> Page:
    """A page of CONTENTS, made once."""
    import markdown  # heavy, and most days nobody reads

    made = markdown.markdown(source(name), extensions=["tables", "fenced_code", "toc"], output_format="html")
    made = made.replace("<pre>", '<pre tabindex="0">')  # a long line is scrolled to its end, without a mouse too
    return Page(name, title(name), tables(made))


def document(name: str | None, *, addresses: str = "") -> str:
    """A whole HTML document: a page of CONTENTS, or the contents where name is None.

    addresses: HTML for the page of the interface.
    """
    shown = None if name is None else page(name)
    body = _welcome() if shown is None else shown.body
    body = body.replace(SLOT, addresses)
    body = _LINK.sub(lambda link: f'href="/handbook/{link["name"]}{link["anchor"] or ""}"', body)
    body = _PICTURE.sub(r'<a href="/handbook/\2">\1/handbook/\2\3</a>', body)  # to be looked at closely
    listed = "".join(
        f'<li><a href="/handbook/{each}"{HERE if each == name else ""}>{escape(title(each))}</a></li>'
        for each in CONTENTS
    )
    heading = "Handbook" if shown is None else shown.title
    return (
        '<!doctype html>\n<html lang="en"><head><meta charset="utf-8">'
        '<meta name="viewport" content="width=device-width, initial-scale=1, viewport-fit=cover">'
        f'<meta name="color-scheme" content="light dark"><title>{escape(heading)} - spyhole</title>'
        '<link rel="icon" href="/static/hole.svg" type="image/svg+xml">'
        '<link rel="stylesheet" href="/static/page.css"><link rel="stylesheet" href="/static/handbook.css"></head>'
        f'<body class="handbook"><a class="skip" href="#text">To the text</a><nav class="home">'
        '<a href="/">Now</a> <a href="/handbook">Handbook</a></nav>'
        f'<main id="text">{body}</main><nav class="contents" aria-label="Contents"><ol>{listed}</ol></nav>'
        "</body></html>\n"
    )


def _welcome() -> str:
    return (
        "<h1>Handbook</h1><p>For whoever fires the kiln, and for whoever puts the probes in. It is kept on this "
        'machine and needs no network.</p><p>New here: begin with the <a href="/handbook/start">quick start</a>. An '
        'alarm is calling: <a href="/handbook/alarms">every alarm</a> is in the list, with the first thing to do. '
        'Something is odd: look under <a href="/handbook/symptoms">symptoms</a>. A word is strange: it is among '
        '<a href="/handbook/words">the words</a>.</p>'
    )
