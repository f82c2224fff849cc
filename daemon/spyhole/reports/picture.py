"""The printed pages as one picture, one under the other."""

import io

import pypdfium2

DOTS_PER_INCH = 130


def png_of(document: bytes) -> bytes:
    """A PNG of every page of this PDF."""
    with pypdfium2.PdfDocument(document) as pages:
        pictures = [page.render(scale=DOTS_PER_INCH / 72).to_pil() for page in pages]
    whole = pictures[0].copy()
    if len(pictures) > 1:
        whole = whole.resize((whole.width, sum(one.height for one in pictures)))
        y = 0
        for one in pictures:
            whole.paste(one, (0, y))
            y += one.height
    buffer = io.BytesIO()
    whole.save(buffer, "PNG", optimize=True)
    return buffer.getvalue()
