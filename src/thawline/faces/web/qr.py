"""A QR code as a picture in the page."""

from __future__ import annotations

import segno
from django.utils.html import format_html
from django.utils.safestring import SafeString, mark_safe


def qr_picture(text: str, says: str) -> SafeString:
    """What a phone's camera reads as `text`; `says` is read out in its place. Black on white also where it is dark."""
    made = segno.make(text, error="m", micro=False, boost_error=False)
    # Squares and numbers alone: nothing of the text stands in the drawing.
    drawn = made.svg_inline(border=4, omitsize=True, dark="#000", light="#fff", svgclass=None, lineclass=None)
    return format_html('<div class="qr" role="img" aria-label="{}">{}</div>', says, mark_safe(drawn))  # noqa: S308
