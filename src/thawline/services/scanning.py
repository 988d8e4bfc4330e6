"""Read the QR codes in a photo that was sent: what they say is a stranger's text, short and plain, never a link."""

from __future__ import annotations

import threading
from collections.abc import Callable, Iterator
from typing import BinaryIO

import zxingcpp
from PIL import Image, ImageFilter, ImageOps

# A server at home has little memory: one photo is opened at a time, and none that would need more than about 100 MB.
MOST_BYTES = 19_500_000
_MOST_PIXELS, _MOST_PIXELS_JPEG = 24_000_000, 89_000_000
_MOST_TEXTS, _LONGEST_TEXT = 12, 2000
# Sides in pixels: small enough to be quick, large enough for a small label far away.
_SMALL, _LARGE, _LEAST = 1100, 2600, 21
_TOO_MANY = "The photo has too many pixels. Take it with fewer, or type the code."
_FORMATS = ("JPEG", "PNG", "WEBP", "GIF")
_APPLE = (b"heic", b"heix", b"heim", b"heis", b"hevc", b"hevx", b"mif1", b"msf1", b"avif", b"avis")
_QR = zxingcpp.BarcodeFormats([zxingcpp.BarcodeFormat.QRCode])
_one_at_a_time = threading.Semaphore(1)


class UnreadablePhotoError(ValueError):
    """A photo that can't be used; its text says what to do instead."""


def texts(photo: BinaryIO) -> list[str]:
    """What the QR codes in a photo say, from top to bottom, each once; none where none can be read.

    JPEG, PNG, WebP or GIF, at most `MOST_BYTES`. Raises `UnreadablePhotoError`. The photo is not kept.
    """
    size = photo.seek(0, 2)
    if size > MOST_BYTES:
        raise UnreadablePhotoError("The photo is too large. Take it with fewer pixels, or type the code.")
    photo.seek(0)
    head = photo.read(16)
    if head[4:8] == b"ftyp" and head[8:12] in _APPLE:
        raise UnreadablePhotoError("This kind of photo (HEIC) can't be read here. Type the code from the label.")
    photo.seek(0)
    with _one_at_a_time:
        return _all(_opened(photo))


def _opened(photo: BinaryIO) -> Image.Image:
    """The photo in shades of grey, upright, no larger than is of use; raises `UnreadablePhotoError`."""
    try:
        image = Image.open(photo, formats=_FORMATS)
        _within(image)
        image.draft("L", (_LARGE, _LARGE))
        image.load()
        return _grey(image)
    except UnreadablePhotoError:
        raise
    except (Image.DecompressionBombError, Image.DecompressionBombWarning) as fault:
        raise UnreadablePhotoError(_TOO_MANY) from fault
    # Pillow's readers raise nearly anything on broken files.
    except Exception as fault:
        raise UnreadablePhotoError("This photo can't be opened. Take another one, or type the code.") from fault


def _within(image: Image.Image) -> None:
    """Refuse what would need too much memory, before a pixel of it is read."""
    frugal = image.format in ("JPEG", "MPO") and not image.info.get("progressive")
    if image.width * image.height > (_MOST_PIXELS_JPEG if frugal else _MOST_PIXELS):
        raise UnreadablePhotoError(_TOO_MANY)


def _grey(image: Image.Image) -> Image.Image:
    if image.mode not in ("L", "RGB"):
        # What is see-through lies on white, as on a sheet.
        coloured = image.convert("RGBA")
        sheet = Image.new("RGBA", coloured.size, "white")
        image = Image.alpha_composite(sheet, coloured)
    return ImageOps.exif_transpose(_fitted(image.convert("L"), _LARGE))


def _fitted(image: Image.Image, side: int) -> Image.Image:
    """The picture with its longer side at most so many pixels."""
    most = max(image.size)
    if most <= side:
        return image
    width, height = (max(1, round(one * side / most)) for one in image.size)
    return image.resize((width, height), Image.Resampling.BOX)


def _all(image: Image.Image) -> list[str]:
    """All that is read in the two usual sizes; only where that is nothing, what a harder look finds first."""
    if min(image.size) < _LEAST:
        return []
    found: dict[str, int] = {}
    for size in {_SMALL, _LARGE}:
        for text, height in _read(_fitted(image, size)):
            found.setdefault(text, height)
    if not found:
        found = next(filter(None, (dict(_read(one())) for one in _harder(image))), {})
    return sorted(found, key=lambda text: found[text])[:_MOST_TEXTS]


def _harder(image: Image.Image) -> Iterator[Callable[[], Image.Image]]:
    """The picture mended in other ways: more contrast, larger, smoother, sharper, much smaller."""
    small = _fitted(image, _SMALL)
    yield lambda: ImageOps.autocontrast(small, cutoff=2)
    yield lambda: ImageOps.autocontrast(ImageOps.scale(small, 2))
    yield lambda: small.filter(ImageFilter.MedianFilter(5))
    yield lambda: small.filter(ImageFilter.UnsharpMask(6, 250, 0))
    yield lambda: ImageOps.equalize(small)
    yield lambda: _fitted(small, _SMALL // 3)
    yield lambda: ImageOps.expand(small, 40, fill=255)


def _read(image: Image.Image) -> list[tuple[str, int]]:
    """What each QR code says, and how far down it stands, in thousandths of the picture."""
    found = []
    for one in zxingcpp.read_barcodes(image, formats=_QR):
        text = plain(one.text)
        if one.valid and text:
            found.append((text, one.position.top_left.y * 1000 // image.height))
    return found


def plain(text: str) -> str:
    """A stranger's text as it may be kept and shown: one line of printable characters; empty where it is too long."""
    if len(text) > _LONGEST_TEXT:
        return ""
    return " ".join("".join(sign if sign.isprintable() else " " for sign in text).split())
