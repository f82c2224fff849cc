"""The pages, opened by a reader that is not ours (pypdf, and pdfium for the picture): all there, nothing cut."""

import csv
import io
import json
from dataclasses import replace
from typing import Any

import pypdfium2
import pytest
from PIL import Image
from pypdf import PdfReader

from spyhole.core.entry import Entry, EntryKind
from spyhole.core.report import sentences
from spyhole.core.report.report import report_of
from spyhole.core.report.story import Happening
from spyhole.core.words import Manner
from spyhole.reports.paper import Face, printable
from spyhole.reports.press import press
from spyhole.services.reporting import Form, Paper

MANNER = Manner()
LONG = "x" * 200
SIZES = {Paper.A4: (595.3, 841.9), Paper.LETTER: (612.0, 792.0)}


def pdf(report: Any, paper: Paper = Paper.A4, manner: Manner = MANNER) -> PdfReader:
    return PdfReader(io.BytesIO(press(report, Form.PDF, manner, paper)))


def text_of(reader: PdfReader) -> str:
    return " ".join(" ".join(page.extract_text().split()) for page in reader.pages)


@pytest.mark.parametrize("paper", Paper)
def test_two_pages_of_the_right_size_in_standard_faces(fired: Any, paper: Paper) -> None:
    reader = pdf(fired.report(), paper)
    assert len(reader.pages) == 2
    for page in reader.pages:
        assert (float(page.mediabox.width), float(page.mediabox.height)) == pytest.approx(SIZES[paper], abs=0.2)
        faces = {font.get_object()["/BaseFont"] for font in page["/Resources"]["/Font"].values()}
        assert faces <= {"/Helvetica", "/Helvetica-Bold"}


@pytest.mark.parametrize("unit", ["degC", "degF"])
@pytest.mark.parametrize("paper", Paper)
def test_no_text_runs_off_the_page_or_over_another(fired: Any, paper: Paper, unit: str) -> None:
    """By the boxes of the characters, as pdfium sets them: inside the border, and no two lines on one another."""
    document = press(fired.report(), Form.PDF, replace(MANNER, unit=unit), paper)
    with pypdfium2.PdfDocument(document) as opened:
        for page in opened:
            width, height = page.get_size()
            page_text = page.get_textpage()
            boxes = [page_text.get_rect(n) for n in range(page_text.count_rects())]
            assert len(boxes) > 40
            for left, bottom, right, top in boxes:
                assert left > 30
                assert right < width - 30
                assert bottom > 25
                assert top < height - 25
            overlapping = [
                (a, b)
                for n, a in enumerate(boxes)
                for b in boxes[n + 1 :]
                if min(a[2], b[2]) - max(a[0], b[0]) > 1.0 and min(a[3], b[3]) - max(a[1], b[1]) > 1.5
            ]
            assert overlapping == []


def test_what_a_keeper_looks_for_is_on_the_first_page(fired: Any) -> None:
    report = fired.report()
    first = " ".join(pdf(report).pages[0].extract_text().split())
    for words in (
        sentences.headline(report, replace(MANNER, typeset=True)), "Puffin", sentences.CAUTION, "kWh", "EUR",
        "cone 05 down", "heating ended", "quartz", "candling", "For the keeper", "Different from last time",
    ):  # fmt: skip
        assert " ".join(words.split()) in first


def test_everything_that_happened_is_on_the_others(fired: Any) -> None:
    report = fired.report()
    second = " ".join(pdf(report).pages[1].extract_text().split())
    for one in report.story.happenings:
        words = sentences.happening(one, MANNER).removesuffix(".")
        assert words in second


def test_a_long_story_goes_on_overleaf_and_loses_nothing(fired: Any) -> None:
    story = fired.report().story
    notes = tuple(
        Happening(story.started_utc_ms + n * 61_000, 10**6 + n, Entry(EntryKind.NOTE, "", f"note number {n} {LONG}"))
        for n in range(150)
    )
    reader = pdf(report_of(replace(story, happenings=(*story.happenings, *notes))))
    assert len(reader.pages) > 2
    text = text_of(reader)
    assert all(f"note number {n} " in text for n in range(150))


def test_a_firing_nobody_could_see_is_printed_too(fired: Any) -> None:
    story = fired.report().story
    reader = pdf(report_of(replace(story, points=(), happenings=(), tripped_utc_ms=None)))
    assert "Nothing to be believed from the probe at bottom, middle and top" in text_of(reader)


def test_letters_the_face_has_not_lose_their_accents_and_not_the_word() -> None:
    assert printable("Łucja’s kiln, 900 °C") == "Lucja’s kiln, 900 °C"
    assert printable("窯") == "?"


def test_words_are_broken_to_fit() -> None:
    face = Face(9.0)
    lines = face.wrapped("a " + "w" * 200 + " end", 40.0)
    assert all(face.wide(line) <= 40.0 for line in lines)
    assert "".join(lines).replace(" ", "") == "a" + "w" * 200 + "end"


def test_the_picture_is_both_pages(fired: Any) -> None:
    picture = Image.open(io.BytesIO(press(fired.report(), Form.PNG, MANNER, Paper.A4)))
    assert picture.format == "PNG"
    assert picture.width == pytest.approx(8.27 * 130, abs=2)
    assert picture.height == pytest.approx(2 * 11.69 * 130, abs=4)
    assert picture.convert("L").getextrema()[0] < 60


def test_the_tables_hold_the_same_figures(fired: Any) -> None:
    report = fired.report()
    rows = list(csv.DictReader(io.StringIO(press(report, Form.CSV, MANNER, Paper.A4).decode())))
    whole = json.loads(press(report, Form.JSON, MANNER, Paper.A4))
    energy = next(row for row in rows if (row["table"], row["what"]) == ("energy", "all"))
    assert float(energy["value"]) == pytest.approx(report.energy.kwh, abs=1e-4)
    assert whole["energy"]["kwh"] == report.energy.kwh
    assert whole["rings"][1]["heat_work"]["uncorrected"] == report.rings[1].work.raw
    assert len(whole["curve"]) == len(report.story.points)
    assert {row["table"] for row in rows} >= {"firing", "ring", "stage", "climb", "cooling", "cost", "happened"}


def test_a_note_is_no_formula_in_a_spreadsheet(fired: Any) -> None:
    story = fired.report().story
    sly = Happening(story.started_utc_ms + 1, 10**6, Entry(EntryKind.NOTE, "", '=HYPERLINK("x")'))
    told = press(report_of(replace(story, happenings=(sly,))), Form.CSV, MANNER, Paper.A4).decode()
    assert not any(cell.startswith("=") for row in csv.reader(io.StringIO(told)) for cell in row)
