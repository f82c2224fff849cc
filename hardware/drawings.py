"""The drawings of the handbook, made from this source: python hardware/drawings.py

Only what a hand may do itself is drawn in ink. What belongs to a licensed electrician is drawn in grey and says so.
"""

from html import escape
from pathlib import Path

PLACE = Path(__file__).parents[1] / "web/spyhole_web/handbook"

INK, SOFT, FILL, HOT, PAPER = "#231b16", "#8a7d70", "#e6d9c4", "#a4521f", "#f7f3ec"


class Sheet:
    """A drawing in the making; lengths are in its own units."""

    def __init__(self, width: int, height: int, title: str) -> None:
        self._title, self._width, self._height = title, width, height
        self._parts: list[str] = []

    def box(
        self, x: float, y: float, width: float, height: float, words: str = "", *, fill: str = FILL, grey: bool = False
    ) -> None:
        """A box with words in its middle, a line each."""
        ink = SOFT if grey else INK
        dashed = ' stroke-dasharray="6 4"' if grey else ""
        self._parts.append(
            f'<rect x="{x:g}" y="{y:g}" width="{width:g}" height="{height:g}" rx="4" fill="{fill}" '
            f'stroke="{ink}" stroke-width="1.5"{dashed}/>'
        )
        lines = words.split("\n") if words else []
        for number, line in enumerate(lines):
            below = y + height / 2 + 5 + 17 * (number - (len(lines) - 1) / 2)
            self.words(x + width / 2, below, line, middle=True, grey=grey)

    def line(self, *points: tuple[float, float], ink: str = INK, thick: float = 2, dashed: bool = False) -> None:
        """A line through points."""
        path = " ".join(f"{x:g},{y:g}" for x, y in points)
        dash = ' stroke-dasharray="6 4"' if dashed else ""
        self._parts.append(f'<polyline points="{path}" fill="none" stroke="{ink}" stroke-width="{thick:g}"{dash}/>')

    def dot(self, x: float, y: float, radius: float, ink: str = INK) -> None:
        """A filled round."""
        self._parts.append(f'<circle cx="{x:g}" cy="{y:g}" r="{radius:g}" fill="{ink}"/>')

    def words(self, x: float, y: float, text: str, *, middle: bool = False, grey: bool = False) -> None:
        """One line of text."""
        anchor = ' text-anchor="middle"' if middle else ""
        ink = "#5d5248" if grey else INK
        self._parts.append(f'<text x="{x:g}" y="{y:g}" fill="{ink}"{anchor}>{escape(text)}</text>')

    def made(self) -> str:
        """The SVG."""
        return (
            f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {self._width} {self._height}" role="img" '
            f'font-family="sans-serif" font-size="14"><title>{escape(self._title)}</title>'
            f'<rect width="{self._width}" height="{self._height}" fill="{PAPER}"/>' + "".join(self._parts) + "</svg>\n"
        )


def whole() -> str:
    """Kiln, probes, box, Pi and network; and what stays apart."""
    sheet = Sheet(760, 430, "Kiln, probes, amplifier box and computer")
    sheet.box(40, 60, 190, 26, "lid", fill="#d8c7aa")
    for number, name in enumerate(("top", "middle", "bottom")):
        top = 92 + 76 * number
        sheet.box(40, top, 190, 70)
        sheet.words(52, top + 40, f"{name} ring")
        for groove in (top + 14, top + 56):
            sheet.line((46, groove), (96, groove), ink=HOT, thick=3)
        sheet.line((176, top + 35), (256, top + 35), thick=7, ink="#fffaf0")
        sheet.line((176, top + 35), (256, top + 35), thick=1.5)
        sheet.dot(176, top + 35, 5)
        sheet.line((256, top + 35), (300, top + 35), (330, 190), (360, 190))
    sheet.words(250, 80, "ceramic tubes")
    sheet.words(282, 300, "extension cable")
    sheet.words(282, 318, "of the probe's type")
    sheet.box(360, 150, 130, 80, "amplifiers\nin a vented box")
    sheet.line((490, 190), (560, 190), thick=6)
    sheet.words(525, 262, "short ribbon", middle=True)
    sheet.box(560, 150, 170, 80, "computer\nwith a 40-pin header")
    sheet.line((645, 230), (645, 292))
    sheet.words(655, 268, "network")
    sheet.box(560, 292, 170, 46, "your phones")
    sheet.line((645, 150), (645, 96))
    sheet.box(560, 50, 170, 46, "sounder, lamp, button\n3.3 V")
    sheet.box(40, 340, 470, 66, fill="#ffffff", grey=True)
    sheet.words(54, 366, "mains, switches, cone shut-off, timer, independent cut-out:", grey=True)
    sheet.words(54, 388, "apart from all this. Licensed electrician, local code.", grey=True)
    sheet.line((135, 318), (135, 340), ink=SOFT, dashed=True)
    return sheet.made()


def probe() -> str:
    """Through the wall, from above."""
    sheet = Sheet(760, 330, "A probe in its tube, through the kiln wall")
    sheet.box(300, 30, 110, 250, fill=FILL)
    sheet.words(355, 300, "brick wall", middle=True)
    for y in (70, 232):
        sheet.box(398, y - 13, 14, 26, fill=PAPER)
        for coil in range(3):
            sheet.dot(402, y - 8 + 8 * coil, 3, HOT)
    sheet.words(424, 66, "element: live mains")
    sheet.words(424, 252, "element: live mains")
    sheet.box(150, 142, 380, 22, fill="#fffaf0")
    sheet.line((110, 153), (516, 153), thick=2.5)
    sheet.dot(516, 153, 6)
    sheet.words(196, 132, "ceramic tube", middle=False)
    sheet.words(510, 134, "tip")
    sheet.line((412, 188), (530, 188), thick=1)
    sheet.words(424, 208, "about ten tube diameters")
    sheet.box(70, 136, 46, 34, "head")
    sheet.line((70, 153), (20, 153))
    sheet.words(16, 128, "cable")
    sheet.box(644, 40, 24, 230, fill="#d8c7aa")
    sheet.words(656, 292, "shelf", middle=True)
    sheet.line((536, 153), (640, 153), thick=1, dashed=True)
    sheet.words(588, 144, "clear", middle=True)
    sheet.words(16, 218, "clear of the casing;", grey=True)
    sheet.words(16, 238, "drilling, fixing and bonding", grey=True)
    sheet.words(16, 258, "to earth: electrician", grey=True)
    return sheet.made()


def box() -> str:
    """Three amplifiers on one bus."""
    sheet = Sheet(760, 400, "Three amplifier boards on one bus")
    names = (("bottom", "GPIO 5 (pin 29)"), ("middle", "GPIO 6 (pin 31)"), ("top", "GPIO 7 (pin 26)"))
    buses = (
        ("3.3 V (pin 1)", 440), ("ground (pin 6)", 470), ("clock, GPIO 11 (pin 23)", 500),
        ("data to chips, GPIO 10 (pin 19)", 530), ("data from chips, GPIO 9 (pin 21)", 560),
    )  # fmt: skip
    for _, x in buses:
        sheet.line((x, 40), (x, 338), thick=1.5)
    for number, (ring, select) in enumerate(names):
        top = 50 + 96 * number
        sheet.box(150, top, 180, 70, f"amplifier\n{ring} ring")
        sheet.line((70, top + 25), (150, top + 25))
        sheet.line((70, top + 45), (150, top + 45))
        sheet.words(10, top + 30, "probe +")
        sheet.words(10, top + 50, "probe -")
        for wire, (_, x) in enumerate(buses):
            y = top + 8 + 11 * wire
            sheet.line((330, y), (x, y), thick=1)
            sheet.dot(x, y, 3)
        sheet.line((330, top + 64), (610, top + 64), thick=1, dashed=True)
        sheet.words(616, top + 69, select)
    sheet.words(16, 362, "Solid, from left to right: " + "; ".join(words for words, _ in buses[:3]) + ";")
    sheet.words(16, 382, "; ".join(words for words, _ in buses[3:]) + ". Dashed: chip select, one wire a board.")
    return sheet.made()


DRAWINGS = {"whole.svg": whole, "probe.svg": probe, "box.svg": box}

if __name__ == "__main__":
    for name, make in DRAWINGS.items():
        (PLACE / name).write_text(make())
