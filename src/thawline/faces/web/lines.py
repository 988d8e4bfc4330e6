"""A verdict as the elements of a page show it."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple
from urllib.parse import urlencode

from django.urls import reverse
from django.utils.translation import gettext as _

from thawline.core.verdict import Link, Verdict
from thawline.faces.words import FORMS, STANDINGS, Words


class MilkLine(NamedTuple):
    """What `milk_line.html`, `next_feed.html` and `milk_pick.html` show of a container."""

    code: str
    ml_text: str
    place: str | None
    form_word: str
    standing: str
    standing_word: str
    use_by_text: str | None
    left_text: str | None
    estimated: bool
    hint: str
    url: str
    meant_for: str | None
    why: str
    best_by_text: str | None
    ended: bool = False

    @property
    def for_(self) -> str | None:
        return self.meant_for


class WhyLine(NamedTuple):
    """One link of the chain of reasons."""

    says: str
    from_text: str
    until_text: str
    source: str
    mark: str


class Step(NamedTuple):
    """One large button: a form that posts these fields."""

    label: str
    url: str
    fields: Sequence[tuple[str, str]] = ()
    primary: bool = False
    link: bool = False
    verb: str = ""


# Names that a path cannot carry: browsers and servers take them for steps in it.
_NO_PATH = ("-", ".", "..")


def _in_path(container: str) -> bool:
    return "/" not in container and container not in _NO_PATH


def url_of(container: str) -> str:
    """The page of a container."""
    if _in_path(container):
        return reverse("web:milk", args=[container])
    return f"{reverse('web:milk')}?{urlencode({'code': container})}"


def do_url(container: str, verb: str, **preset: str) -> str:
    """Where something is done with a container; `preset` is what its form shows as chosen."""
    if _in_path(container):
        path = reverse("web:milk_do", args=[container, verb])
    else:
        path, preset = reverse("web:milk_do", args=[verb]), {"code": container, **preset}
    return f"{path}?{urlencode(preset)}" if preset else path


def milk_line(found: Verdict, words: Words, *, hint: str = "", clock_wrong: bool = False) -> MilkLine:
    """A container's line; without time left where a clock is wrong."""
    by = found.use_by
    # No time stands beside milk that has none left to be used in.
    timed = by is not None and found.standing not in ("outside", "gone", "breached")
    unit = found.standing == "outside" and by is None
    return MilkLine(
        found.container, words.ml(found.ml), found.place,
        str(_("warmed") if found.warmed is not None and found.form != "frozen" else FORMS[found.form]),
        found.standing, str(_("follow the care team") if unit else STANDINGS[found.standing]),
        words.until(by) if timed and by is not None else None,
        words.left(by) if timed and by is not None and not clock_wrong else None,
        found.estimated, hint, url_of(found.container), found.meant_for,
        found.why[0].says if found.why else "",
        words.until(found.best_by) if found.best_by is not None and found.best_by != by else None,
        timed and by is not None and by <= words.now,
    )  # fmt: skip


def why_lines(links: Sequence[Link], words: Words) -> list[WhyLine]:
    """The chain of reasons, last link first."""
    return [
        WhyLine(link.says, words.clock(link.start), words.until(link.until), link.source, link.mark) for link in links
    ]
