"""The documents say what the program does."""

from __future__ import annotations

import json
import re
import runpy
from pathlib import Path

import pytest

from thawline.core import events, guideline

ROOT = Path(__file__).resolve().parent.parent
KINDS = sorted(kind.__struct_config__.tag for kind in events.AnyEvent.__args__)


def test_the_schema_in_the_docs_is_the_one_printed() -> None:
    assert json.loads((ROOT / "docs" / "event.schema.json").read_text()) == events.event_schema()


def test_the_board_in_the_readme_is_the_one_printed() -> None:
    with_board = runpy.run_path(str(ROOT / "scripts" / "readme_board.py"))["with_board"]
    text = (ROOT / "README.md").read_text()
    assert with_board(text) == text


@pytest.mark.parametrize("kind", KINDS)
def test_every_kind_of_event_stands_in_the_manual(kind: str) -> None:
    assert f"`{kind}`" in (ROOT / "docs" / "ledger.md").read_text()


@pytest.mark.parametrize("name", guideline.shipped_ids())
def test_every_guideline_stands_in_the_manual(name: str) -> None:
    assert f"`{name}`" in (ROOT / "docs" / "guidelines.md").read_text()


@pytest.mark.parametrize("page", sorted(ROOT.glob("docs/**/*.md")) + sorted(ROOT.glob("*.md")), ids=lambda p: p.name)
def test_every_link_to_a_file_leads_somewhere(page: Path) -> None:
    for target in re.findall(r"\]\(([^)#:]+)(?:#[^)]*)?\)", page.read_text()):
        assert (page.parent / target).exists(), f"{page.name} links to {target}"
