"""The pictures of the questions of heat: how the milk's temperature runs, on the household's clock."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils.translation import gettext as _

from thawline.core.times import MINUTE
from thawline.engines.physics.course import Course, Path
from thawline.faces.web.charts import Band, Chart, Limit, Series, Table, chart
from thawline.faces.web.views.heat_kit import mm_text
from thawline.faces.words import Words
from thawline.services.heat_answers import Bowl, Cool, Thaw, hard_c, ice_left

_HOUR = 60 * MINUTE


def _clocked(path: Path, began: int, words: Words) -> list[tuple[float, float]]:
    return [(began + hours * _HOUR, round(words.degrees(c), 2)) for hours, c in path]


def _bands(runs: Course, began: int, words: Words) -> list[Band]:
    if not runs.early or not runs.late:
        return []
    early, late = _clocked(runs.early, began, words), _clocked(runs.late, began, words)
    return [Band(_("between early and late"), late, early)]


def _limit(c: float, says: str, words: Words) -> Limit:
    return Limit(says, round(words.degrees(c), 2))


def thawing(runs: Course, found: Thaw, words: Words) -> Chart | None:
    """How the ice melts in the refrigerator."""
    shares = ice_left(runs)
    early, nominal, late = (
        [(found.began + hours * _HOUR, 100 * share) for hours, share in path] for path in shares
    )  # fmt: skip
    return chart(
        "thaw", _("How much ice is left"), unit="%", words=words, scale=(0, 100),
        says=_("Half of the ice is gone before half of the time is over; the last of it stays long."),
        series=[Series(_("most likely"), nominal)],
        bands=[Band(_("between early and late"), early, late)] if early and late else [],
    )  # fmt: skip


def chilling(runs: Course, found: Cool, began: int, words: Words) -> Chart | None:
    """How fresh milk cools in the refrigerator."""
    return chart(
        "cool", _("How its temperature runs"), unit=f"°{words.temp}", words=words,
        says=_("It falls quickly at first, and ever more slowly towards the refrigerator's own temperature."),
        series=[Series(_("most likely"), _clocked(runs.nominal, began, words))],
        bands=_bands(runs, began, words), limits=[_limit(found.to_c, _("cold enough"), words)],
    )  # fmt: skip


def layers(runs: Sequence[tuple[float, Path]], words: Words) -> Chart | None:
    """How layers of bags, so many mm thick, freeze."""
    return chart(
        "layers", _("Thin layers freeze sooner"), unit=f"°{words.temp}",
        says=_("Each layer stays just below freezing while its ice forms, then falls. The thinnest is hard first."),
        series=[Series(mm_text(mm), [(hours, round(words.degrees(c), 2)) for hours, c in path]) for mm, path in runs],
        limits=[_limit(hard_c(), _("hard"), words)],
    )  # fmt: skip


def _minutes(path: Path, words: Words) -> Table:
    last = path[-1][0] * 60
    rows = [[f"{hours * 60:.1f}", words.c(c)] for hours, c in path]
    note = _("Swirled all the while. Followed for %(n)d minutes.") % {"n": round(last)}
    return Table([_("Minutes"), _("milk, swirled")], rows, note)


def bowl(path: Path, found: Bowl, began: int, words: Words) -> Chart | None:
    """How milk that is swirled warms in this bowl; none where the water is no warmer."""
    if not path:
        return None
    return chart(
        "bowl", _("How it warms if it goes in now"), unit=f"°{words.temp}", words=words, table=_minutes(path, words),
        says=_("It warms quickly at first, then more slowly as bowl and milk come to one temperature."),
        series=[Series(_("milk, swirled"), _clocked(path, began, words))],
        limits=[_limit(found.to_c, _("wanted"), words)],
    )  # fmt: skip
