"""Paper and pen: a canvas measured in millimetres from the top left corner, with text that never runs off.

The page is laid out inside what A4 and Letter share, so that either prints without scaling. The tones are the
page's own; each differs in grey too, and whatever matters also differs by place, word or dash.
"""

import io
import unicodedata
from collections.abc import Sequence
from dataclasses import dataclass

from reportlab.lib.colors import HexColor
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.units import mm
from reportlab.pdfbase.pdfmetrics import stringWidth
from reportlab.pdfgen.canvas import Canvas

from spyhole.services.reporting import Paper

INK = "#231b16"
SOFT = "#5c5147"
LINE = "#d5c9ba"
BRICK = "#e6d8c0"
JOINT = "#c9b797"
HEM = "#6b5b8c"
COURSE = "#efe5d6"
ACCENT = "#1d4f91"
WHITE = "#ffffff"

PLAIN, BOLD = "Helvetica", "Helvetica-Bold"
WIDTH, HEIGHT = 182.0, 254.0
"""Of what is drawn on [mm]: A4 is 210 x 297, Letter 215.9 x 279.4, and a printer leaves a border."""
LEADING = 1.28
MILLIMETRE = float(mm)
POINT = 1.0 / MILLIMETRE


def printable(text: str) -> str:
    """The same text in the letters the standard faces have: others lose their accents, or become a question mark.

    >>> printable("Łukasz’s bowl, 900 °C"), printable("š")
    ('Lukasz’s bowl, 900 °C', 'š')
    """
    made = []
    for letter in text:
        if _has(letter):
            made.append(letter)
            continue
        plain = _WITHOUT.get(letter) or "".join(c for c in unicodedata.normalize("NFKD", letter) if _has(c))
        made.append(plain or "?")
    return "".join(made)


_WITHOUT = {"Ł": "L", "ł": "l", "đ": "d", "Đ": "D", "ı": "i", "\n": " ", "\t": " "}


def _has(letter: str) -> bool:
    try:
        letter.encode("cp1252")
    except UnicodeEncodeError:
        return False
    return letter.isprintable()


@dataclass(frozen=True, slots=True)
class Face:
    """How text stands: size in points, weight, tone."""

    size: float = 9.0
    bold: bool = False
    tone: str = INK

    @property
    def name(self) -> str:
        """Of the standard face."""
        return BOLD if self.bold else PLAIN

    @property
    def line(self) -> float:
        """From one line to the next [mm]."""
        return self.size * LEADING * POINT

    def wide(self, text: str) -> float:
        """Width of this text [mm]."""
        return float(stringWidth(printable(text), self.name, self.size)) * POINT

    def wrapped(self, text: str, width: float) -> list[str]:
        """Lines no wider than this [mm]; a word that is wider by itself is broken."""
        lines = [""]
        for word in printable(text).split():
            joined = f"{lines[-1]} {word}".strip()
            if self.wide(joined) <= width:
                lines[-1] = joined
                continue
            if lines[-1]:
                lines.append("")
            for letter in word if self.wide(word) > width else ():
                if lines[-1] and self.wide(lines[-1] + letter) > width:
                    lines.append("")
                lines[-1] += letter
            lines[-1] = lines[-1] or word
        return lines


class Pen:
    """Draws on a page. All places and sizes in mm from the top left of the drawn area, y downwards."""

    def __init__(self, paper: Paper, title: str) -> None:
        self._size = A4 if paper is Paper.A4 else LETTER
        self._left = (self._size[0] - WIDTH * MILLIMETRE) / 2
        self._top = self._size[1] - (self._size[1] - HEIGHT * MILLIMETRE) / 2
        self._buffer = io.BytesIO()
        self._canvas = Canvas(self._buffer, pagesize=self._size, invariant=1)
        self._canvas.setTitle(printable(title))
        self._canvas.setCreator("spyhole")
        self.pages = 1

    def turn_page(self) -> None:
        """Begin a new page."""
        self._canvas.showPage()
        self.pages += 1

    def done(self) -> bytes:
        """The finished document."""
        self._canvas.save()
        return self._buffer.getvalue()

    def text(self, x: float, y: float, text: str, face: Face = Face(), align: str = "left") -> None:
        """One line; y is its baseline. align: left, right or middle of x."""
        self._canvas.setFont(face.name, face.size)
        self._canvas.setFillColor(HexColor(face.tone))
        draw = {
            "left": self._canvas.drawString,
            "right": self._canvas.drawRightString,
            "middle": self._canvas.drawCentredString,
        }[align]
        draw(*self._at(x, y), printable(text))

    def paragraph(self, x: float, y: float, width: float, text: str, face: Face = Face()) -> float:
        """Wrapped text whose first line hangs under y; returns where the next thing may stand."""
        for line in face.wrapped(text, width):
            y += face.line
            self.text(x, y - 0.25 * face.line, line, face)
        return y

    def line(
        self,
        points: Sequence[tuple[float, float]],
        tone: str = INK,
        width: float = 0.2,
        dash: Sequence[float] = (),
    ) -> None:
        """A line through these points. width and dash in mm."""
        if len(points) < 2:
            return
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        self._canvas.setStrokeColor(HexColor(tone))
        self._canvas.setLineWidth(width * MILLIMETRE)
        self._canvas.setDash([length * MILLIMETRE for length in dash])
        self._canvas.setLineJoin(1)
        self._canvas.drawPath(path, stroke=1, fill=0)

    def shape(
        self, points: Sequence[tuple[float, float]], tone: str, edge: str | None = None, width: float = 0.2
    ) -> None:
        """A filled polygon."""
        path = self._canvas.beginPath()
        path.moveTo(*self._at(*points[0]))
        for point in points[1:]:
            path.lineTo(*self._at(*point))
        path.close()
        self._canvas.setFillColor(HexColor(tone))
        self._canvas.setDash([])
        if edge is not None:
            self._canvas.setStrokeColor(HexColor(edge))
            self._canvas.setLineWidth(width * MILLIMETRE)
        self._canvas.drawPath(path, stroke=int(edge is not None), fill=1)

    def box(self, x: float, y: float, width: float, height: float, tone: str, edge: str | None = None) -> None:
        """A filled rectangle; y is its top."""
        self.shape([(x, y), (x + width, y), (x + width, y + height), (x, y + height)], tone, edge)

    def _at(self, x: float, y: float) -> tuple[float, float]:
        return self._left + x * MILLIMETRE, self._top - y * MILLIMETRE
