"""A photo of a label in the form: what is read, asked, refused; and that the photo is not kept."""

from __future__ import annotations

import io
from pathlib import Path
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile
from PIL import Image
from tests.check_families import photo
from tests.pages import Family, text
from tests.test_check_page import checks, sign
from tests.test_scanning import BROKEN, code, scene, sent

from thawline.services import tags


def _send(home: Family, upload: SimpleUploadedFile, status: int = 200, **more: Any) -> Any:
    page = home.see("/check/")
    return home.send("/check/", home.fill(page, photo=upload, **more), status=status)


def _upload(image: Image.Image) -> SimpleUploadedFile:
    return SimpleUploadedFile("photo.jpg", sent(image, quality=80).getvalue(), "image/jpeg")


def test_a_photo_of_the_label_is_all_it_takes(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    assert sign(_send(home, _upload(scene(code(tags.address("http://thawline.lan", home.store, "KA34")))))) == "Match"


def test_a_photo_of_several_labels_asks_which_and_needs_no_second_photo(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    home.expressed("FE44", 90, 24 * 9, place="freezer")
    labels = [code(tags.address("http://thawline.lan", home.store, one)) for one in ("KA34", "FE44")]
    page = _send(home, _upload(scene(*labels)), 422)
    assert "several labels" in text(page)
    assert checks(home) == []
    choices = {one.parent.get_text(strip=True): one["value"] for one in page.select('input[name="label"]')}
    assert set(choices) == {"KA34", "FE44"}
    found = home.send("/check/", home.fill(page, label=choices["FE44"]))
    assert sign(found) == "Stop"
    assert checks(home)[0].why == ["frozen"]


def test_another_code_beside_the_label_is_passed_over(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    ours = code(tags.address("http://thawline.lan", home.store, "KA34"))
    assert sign(_send(home, _upload(scene(code("https://elsewhere.example/recipes"), ours)))) == "Match"


def test_a_photo_without_a_code_says_what_to_do_and_records_nothing(home: Family) -> None:
    home.expressed("KA34", 90, 2)
    # The code that stood in the field is not taken instead: it may be of another bottle.
    page = _send(home, _upload(scene(code()).crop((0, 0, 300, 300))), 422, code="KA34")
    assert "type the code" in text(page)
    assert page.select_one('input[name="code"]') is not None
    assert checks(home) == []


@pytest.mark.parametrize("name", [name for name in BROKEN if name != "nothing"])
def test_a_file_that_is_no_photo_is_told_calmly(home: Family, name: str) -> None:
    page = _send(home, SimpleUploadedFile("photo.jpg", BROKEN[name], "image/jpeg"), 422)
    assert "ype the code" in text(page)
    assert checks(home) == []


def test_a_photo_without_a_child_asks_for_the_child_alone(home: Family) -> None:
    home.note("child", 24 * 300, child="Ana", born="2026-12-01", care="home")
    home.expressed("KA34", 90, 2)
    page = _send(home, photo(tags.address("http://thawline.lan", home.store, "KA34")), 422)
    assert "Choose the child" in text(page)
    chosen = f"{tags.tag_of(home.store)}/Ana"
    assert sign(home.send("/check/", home.fill(page, child=chosen))) == "Match"


def test_the_photo_is_not_kept(home: Family, tmp_path: Path, settings: Any) -> None:
    settings.FILE_UPLOAD_TEMP_DIR = str(tmp_path)
    home.expressed("KA34", 90, 2)
    large = scene(code(tags.address("http://thawline.lan", home.store, "KA34")), size=(3000, 4000))
    noise = Image.effect_noise(large.size, 60).convert("RGB")
    buffer = io.BytesIO()
    Image.blend(large, noise, 0.2).save(buffer, "JPEG", quality=97)
    assert len(buffer.getvalue()) > settings.FILE_UPLOAD_MAX_MEMORY_SIZE
    upload = SimpleUploadedFile("photo.jpg", buffer.getvalue(), "image/jpeg")
    assert sign(_send(home, upload)) == "Match"
    assert list(tmp_path.iterdir()) == []
