"""The least that puts the same words and codes on pages: what printing is measured against."""

from collections.abc import Sequence
from io import BytesIO

from .facts import CardFacts, texts_of
from .fonts import BUILDING, REGULAR, face

LINE = 9.0
MODULE = 1.2


def draw_bare(cards: Sequence[CardFacts]) -> bytes:
    """Every text of each card on a line of its own and its code square by square; nothing fitted, nothing checked."""
    import segno
    from reportlab.lib.pagesizes import A6
    from reportlab.pdfgen.canvas import Canvas

    out = BytesIO()
    with BUILDING:
        canvas = Canvas(out, pagesize=A6, pageCompression=1, initialFontName=face(REGULAR).name)
        for card in cards:
            canvas.setFont(face(REGULAR).name, 8)
            for number, text in enumerate(text for text in texts_of(card) if text):
                canvas.drawString(10, A6[1] - LINE * (number + 1), text)
            if card.public_url:
                for y, row in enumerate(segno.make_qr(card.public_url, error="m", boost_error=False).matrix):
                    for x, dark in enumerate(row):
                        if dark:
                            canvas.rect(10 + x * MODULE, 60 - y * MODULE, MODULE, MODULE, stroke=0, fill=1)
            canvas.showPage()
        canvas.save()
    return out.getvalue()
