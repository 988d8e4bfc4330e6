"""What is due, in words that stay true: without "today", since a calendar is read days later."""

from __future__ import annotations

from collections.abc import Sequence

from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.times import DAY
from thawline.faces.words import Words
from thawline.services.agenda import Due, Says

CAUTION = gettext_lazy(
    "Advice by a named guideline for healthy babies at home. Preterm, ill or in hospital: follow your care team. "
    "When in doubt ask a professional."
)
KINDS = {
    "freeze": gettext_lazy("Freeze by"),
    "use": gettext_lazy("Use by"),
    "thaw": gettext_lazy("Move to thaw"),
    "kit": gettext_lazy("Sanitise the kit"),
}
# More than these are counted.
NAMED = 4


def by_text(at: int, words: Words) -> str:
    """The end of a time: "14:10", or "end of Thu 3 Apr" for the midnight after it."""
    when = words.local(at)
    if (when.hour, when.minute, when.second) == (0, 0, 0):
        return _("end of %(day)s") % {"day": _day(at - 1, words)}
    return words.hour(at)


def dated(at: int, words: Words) -> str:
    """The end of a time with its day: "Thu 3 Apr 14:10"."""
    text = by_text(at, words)
    return f"{_day(at, words)} {text}" if text.startswith(words.hour(at)) else text


def _day(at: int, words: Words) -> str:
    return str(formats.date_format(words.local(at).date(), "D j M"))


def title(due: Due, says: Says, words: Words, *, with_day: bool = False) -> str:
    """A short line: what, which, by when, and which others come due with it."""
    by = dated(due.by, words) if with_day else by_text(due.by, words)
    values = {"code": due.container, "by": by, "to": due.place or ""}
    if says == "kit":
        return _("Sanitise the kit by %(by)s") % values
    if says == "thaw":
        told = _("Move %(code)s to %(to)s to thaw, by %(by)s") if due.place else _("Move %(code)s to thaw, by %(by)s")
    elif says == "use_or_freeze":
        told = _("Use or freeze %(code)s by %(by)s")
    else:
        told = _("Freeze %(code)s by %(by)s") if says == "freeze" else _("Use %(code)s by %(by)s")
    return _and_others(told % values, due.with_it)


def _and_others(told: str, others: Sequence[str]) -> str:
    if not others:
        return told
    named = ", ".join(others[:NAMED])
    more = len(others) - NAMED
    if more > 0:
        named += " " + ngettext("and %(n)d more", "and %(n)d more", more) % {"n": more}
    return _("%(first)s; then %(others)s") % {"first": told, "others": named}


def body(due: Due, words: Words) -> str:
    """What is to be known of it: amount and place, the reason and whose it is, and the caution."""
    lines = [*_facts(due, words), *_reason(due), str(CAUTION)]
    return "\n".join(lines)


def _facts(due: Due, words: Words) -> list[str]:
    found = []
    if due.ml:
        found.append(", ".join(part for part in (due.container, words.ml(due.ml), due.place) if part))
    if due.since is not None:
        found.append(_("Fits best from %(at)s; by %(by)s at the latest.") % {
            "at": dated(due.since, words), "by": dated(due.by, words)})  # fmt: skip
    elif due.kind in ("use", "freeze"):
        found.append(_("Time ends: %(by)s.") % {"by": _ends(due, words)})
    if due.best_by is not None:
        found.append(_("Best by: %(best)s.") % {"best": _with_year(due.best_by, words)})
    if due.estimated:
        found.append(_("Estimated, on the cautious side."))
    if due.with_it:
        found.append(_("Those that come due soon after have entries of their own, with their own times."))
    return found


def _ends(due: Due, words: Words) -> str:
    """The end of its time; with the year where it is counted in months."""
    if due.span < 60 * DAY:
        return dated(due.by, words)
    return f"{_with_year(due.by, words)} {words.hour(due.by)}"


def _with_year(at: int, words: Words) -> str:
    return str(formats.date_format(words.local(at).date(), "j M Y"))


def _reason(due: Due) -> list[str]:
    if due.kind == "thaw":
        return [_("From the plan: it is wanted for a bottle. Once fully thawed, do not refreeze.")]
    if not due.says:
        return []
    return [_("Why: %(says)s") % {"says": due.says}, _("By: %(source)s") % {"source": due.source}]


def kind_choices() -> list[dict[str, str]]:
    """What one may want to be told of, as a form offers it."""
    says = {
        "freeze": _("milk that may still be frozen"),
        "use": _("every container, chilled and frozen"),
        "thaw": _("as the plan of the next days wants it"),
        "kit": _("where it is to be done daily"),
    }
    return [{"value": kind, "label": str(label), "says": says[kind]} for kind, label in KINDS.items()]
