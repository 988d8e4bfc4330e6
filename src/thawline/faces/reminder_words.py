"""A reminder's title and text."""

from __future__ import annotations

from collections.abc import Collection, Sequence

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from thawline.faces.due_words import CAUTION, by_text, title
from thawline.faces.words import words_for
from thawline.services import board
from thawline.services.agenda import Due, told
from thawline.services.people import Home


def message(home: Home, dues: Sequence[Due], about: Collection[str], now: int) -> tuple[str, str]:
    """What is sent of what is due, one line each, the earliest first: a title that a locked phone shows, and a text."""
    zone, units = board.manners(home.store, now=now)
    words = words_for(zone, now, units)
    lines = [
        title(due._replace(with_it=()), says, words, with_day=True)
        for due in dues
        if (says := told(due, about)) is not None
    ]
    count = len(lines)
    head = ngettext("Milk: %(n)d thing to do by %(by)s", "Milk: %(n)d things to do, the first by %(by)s", count)
    return head % {"n": count, "by": by_text(dues[0].by, words)}, "\n".join([*lines, str(CAUTION)])


def test_message() -> tuple[str, str]:
    """What the test button sends."""
    return _("Thawline: a test"), _("Reminders will come here, once they are switched on.")
