"""Tables on a phone: where a row is too wide for one, each cell stands below the other under its heading."""

import re

_TABLE = re.compile(r"<table>(.*?)</table>", re.DOTALL)
_ROW = re.compile(r"<tr>(.*?)</tr>", re.DOTALL)
_HEAD = re.compile(r"<th(?:\s[^>]*)?>(.*?)</th>", re.DOTALL)
_CELL = re.compile(r"<td[^>]*>(.*?)</td>", re.DOTALL)
_TAG = re.compile(r"<[^>]+>")
SHORT = 24
"""Letters: a table of three columns whose cells are all this short is read on a phone as it is."""


def tables(html: str) -> str:
    """The same document with each table in a frame of its own. One that is too wide for a phone is marked for it.

    Roles are written down, because a browser forgets that a table is one once its rows are shown in another way.
    """
    return _TABLE.sub(lambda found: _framed(found[1]), html)


def _framed(inner: str) -> str:
    heads = [_plain(head) for head in _HEAD.findall(inner)]
    rows = [_CELL.findall(row) for row in _ROW.findall(inner)]
    short = all(len(_plain(cell)) <= SHORT for row in rows for cell in row)
    if len(heads) <= 3 and short:
        # It may scroll by itself all the same, and its place in the order of keys lets it be scrolled without a mouse.
        return f'<div class="wide" tabindex="0"><table>{inner}</table></div>'
    head = "".join(f'<th role="columnheader">{each}</th>' for each in _HEAD.findall(inner))
    body = "".join(f'<tr role="row">{_cells(row, heads)}</tr>' for row in rows if row)
    over = f'<thead role="rowgroup"><tr role="row">{head}</tr></thead>' if any(heads) else ""
    return (
        '<div class="wide" tabindex="0"><table class="stacks" role="table">'
        f'{over}<tbody role="rowgroup">{body}</tbody></table></div>'
    )


def _cells(row: list[str], heads: list[str]) -> str:
    under = (heads + [""] * len(row))[: len(row)]
    return "".join(
        f'<td role="cell"{_under(head) if number and cell.strip() else ""}>{cell}</td>'
        for number, (cell, head) in enumerate(zip(row, under, strict=True))
    )


def _under(head: str) -> str:
    return f' data-under="{head}"' if head else ""


def _plain(html: str) -> str:
    """Its words alone. What is escaped stays escaped, so they may stand in an attribute."""
    return _TAG.sub("", html).strip().replace('"', "&quot;")
