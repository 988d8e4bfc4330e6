"""QR codes read from photos: turned, blurred, squeezed; and files that are no photo, or meant to do harm."""

from __future__ import annotations

import io
import struct
import time
import tracemalloc
import zlib
from contextlib import suppress

import pytest
import segno
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageFilter

from thawline.services import scanning
from thawline.services.scanning import UnreadablePhotoError, plain, texts

TEXT = "HTTP://THAWLINE.LAN:8600/L/ABCDEFGH/KA34"


def code(text: str = TEXT, scale: int = 8) -> Image.Image:
    """A QR code with its quiet zone, as a label prints it."""
    buffer = io.BytesIO()
    segno.make(text, error="m", micro=False).save(buffer, kind="png", scale=scale)
    return Image.open(buffer).convert("RGB")


def scene(*codes: Image.Image, size: tuple[int, int] = (1500, 2000)) -> Image.Image:
    """Codes one below the other on a bottle-grey ground."""
    found = Image.new("RGB", size, (150, 140, 120))
    for number, one in enumerate(codes):
        found.paste(one, (size[0] // 3, size[1] // 8 + number * size[1] // len(codes)))
    return found


def sent(image: Image.Image, kind: str = "JPEG", **more: object) -> io.BytesIO:
    """The bytes of a photo."""
    buffer = io.BytesIO()
    image.save(buffer, kind, **more)
    buffer.seek(0)
    return buffer


@pytest.mark.parametrize("kind", ["JPEG", "PNG", "WEBP", "GIF"])
def test_each_kind_of_picture_a_phone_sends_is_read(kind: str) -> None:
    assert texts(sent(scene(code()), kind)) == [TEXT]


@pytest.mark.slow
@pytest.mark.parametrize("turned", [0, 17, 45, 90, 133, 180, 270, 341])
@pytest.mark.parametrize("blur", [0, 1.5, 3])
@pytest.mark.parametrize("quality", [90, 35, 12])
def test_a_label_is_read_turned_blurred_and_squeezed(turned: int, blur: float, quality: int) -> None:
    label = code().rotate(turned, expand=True, fillcolor=(255, 255, 255))
    photo = scene(label).filter(ImageFilter.GaussianBlur(blur))
    assert texts(sent(photo, quality=quality)) == [TEXT]


def test_a_large_photo_of_a_small_label_is_read() -> None:
    assert texts(sent(scene(code(scale=7), size=(3000, 4000)), quality=85)) == [TEXT]


def test_light_on_dark_mirrored_and_faint_codes_are_read() -> None:
    inverted = Image.eval(code(), lambda one: 255 - one)
    assert texts(sent(scene(inverted))) == [TEXT]
    assert texts(sent(scene(code().transpose(Image.Transpose.FLIP_LEFT_RIGHT)))) == [TEXT]
    assert texts(sent(Image.eval(scene(code()), lambda one: 100 + one // 6), quality=90)) == [TEXT]


@pytest.mark.parametrize("orientation", range(1, 9))
def test_however_the_phone_was_held(orientation: int) -> None:
    exif = Image.Exif()
    exif[0x0112] = orientation
    assert texts(sent(scene(code()), exif=exif.tobytes())) == [TEXT]


def test_every_label_of_a_photo_is_found_once_and_from_the_top() -> None:
    one, two = TEXT, TEXT.replace("KA34", "FE44")
    assert texts(sent(scene(code(one), code(two), code(one), size=(1500, 2400)))) == [one, two]


def test_a_photo_without_a_code_gives_nothing_and_takes_no_long_time() -> None:
    noise = Image.effect_noise((3000, 4000), 80)
    began = time.perf_counter()
    assert texts(sent(noise)) == []
    # No figure of anyone's: a person waits, and the server has other things to do. About 1 s alone.
    assert time.perf_counter() - began < 10


# Files that are no photo


def heic() -> bytes:
    return b"\0\0\0\x18ftypheic\0\0\0\0mif1heic" + b"\0" * 200


def bomb(width: int, height: int) -> bytes:
    """A PNG of few bytes that says it is huge: its pixels, all alike, are squeezed to nothing."""

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", width, height, 8, 0, 0, 0, 0)
    rows = zlib.compress(bytes(1_000_000), 9)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", rows) + chunk(b"IEND", b"")


BROKEN = {
    "nothing": b"",
    "text": b"hello",
    "svg": b"<svg xmlns='http://www.w3.org/2000/svg'><script>alert(1)</script></svg>",
    "pdf": b"%PDF-1.7\n" + b"0" * 500,
    "tiff": b"II*\0" + b"\0" * 300,
    "head only": b"\xff\xd8\xff\xe0" + b"\0" * 100,
    "heic": heic(),
    "bomb": bomb(60_000, 60_000),
    "eps": b"%!PS-Adobe-3.0 EPSF-3.0\n%%BoundingBox: 0 0 10 10\n",
}


@pytest.mark.parametrize("name", BROKEN)
def test_what_is_no_photo_is_refused_in_one_calm_line(name: str) -> None:
    with pytest.raises(UnreadablePhotoError) as fault:
        texts(io.BytesIO(BROKEN[name]))
    assert "\n" not in str(fault.value)
    assert "ype the code" in str(fault.value)


def test_a_bomb_is_refused_before_its_pixels_are_made() -> None:
    tracemalloc.start()
    with pytest.raises(UnreadablePhotoError, match="too many pixels"):
        texts(io.BytesIO(bomb(60_000, 60_000)))
    _, most = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    assert most < 20_000_000


def test_a_file_that_is_too_large_is_not_opened() -> None:
    with pytest.raises(UnreadablePhotoError, match="too large"):
        texts(io.BytesIO(bytes(scanning.MOST_BYTES + 1)))


@pytest.mark.parametrize("size", [(1, 1), (1, 3000), (20, 20)])
def test_a_tiny_picture_holds_no_code(size: tuple[int, int]) -> None:
    assert texts(sent(Image.new("L", size, 255), "PNG")) == []


@given(st.integers(0, 100), st.binary(max_size=40))
def test_a_photo_cut_or_spoilt_anywhere_gives_a_text_or_a_calm_refusal(percent: int, junk: bytes) -> None:
    whole = sent(scene(code(), size=(400, 400))).getvalue()
    cut = whole[: len(whole) * percent // 100]
    for data in (cut, cut + junk, cut + junk + whole[len(cut) + len(junk) :]):
        with suppress(UnreadablePhotoError):
            assert all(len(text) <= 2000 for text in texts(io.BytesIO(data)))


@given(st.text(max_size=3000))
def test_a_strangers_text_comes_as_one_plain_line(text: str) -> None:
    found = plain(text)
    assert found.isprintable()
    assert len(found) <= 2000
    assert found == " ".join(found.split())
