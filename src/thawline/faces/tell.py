"""Events told as sentences: for the banner after recording, the history, and a container's past."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core import events as ev
from thawline.core.guideline import default_id, shipped, shipped_ids
from thawline.core.times import day_start, is_date, parse_instant
from thawline.faces.words import KINDS, Words
from thawline.services.acts import Row
from thawline.services.bulk import Bulk

HOW = {
    "warm_water": gettext_lazy("in warm water"),
    "warmer": gettext_lazy("in a bottle warmer"),
    "microwave": gettext_lazy("in a microwave oven"),
    "stovetop": gettext_lazy("on the stove"),
}
HELD_WHY = {
    "medicine": gettext_lazy("medicine"),
    "alcohol": gettext_lazy("alcohol"),
    "clinician": gettext_lazy("a clinician said so"),
    "other": gettext_lazy("another reason"),
}
ADDED = {
    "fortifier": gettext_lazy("fortifier"),
    "formula": gettext_lazy("formula"),
    "other": gettext_lazy("something else"),
}
FULL = {
    "full": gettext_lazy("It was full."),
    "half": gettext_lazy("It was half full."),
    "little": gettext_lazy("Nothing is promised for it: nearly empty, or opened often."),
}
OTHER_FEED = {
    "formula": gettext_lazy("formula"),
    "donor": gettext_lazy("donor milk"),
    "solids": gettext_lazy("solid food"),
}
CLEANED = {
    ("kit", "washed"): gettext_lazy("The kit was washed."),
    ("kit", "sanitised"): gettext_lazy("The kit was sanitised."),
    ("basin", "washed"): gettext_lazy("The basin and the brush were washed."),
    ("basin", "sanitised"): gettext_lazy("The basin and the brush were sanitised."),
}

# What stopped a feed, in a word or two.
STOPPED_BY = {
    "other_child": gettext_lazy("for another child"),
    "not_ours": gettext_lazy("not a label of this household"),
    "unknown": gettext_lazy("no milk noted under it"),
    "unsure": gettext_lazy("more than one may be meant"),
    "gone": gettext_lazy("noted as gone"),
    "hospital": gettext_lazy("a hospital's care"),
    "drunk": gettext_lazy("another child drank from it"),
    "breached": gettext_lazy("a rule was broken"),
    "past": gettext_lazy("past its limit"),
    "held": gettext_lazy("held back"),
    "outside": gettext_lazy("no time given"),
    "frozen": gettext_lazy("still frozen"),
    "thawing": gettext_lazy("still thawing"),
    "clock": gettext_lazy("the computer's clock was wrong"),
}


def tell(event: ev.AnyEvent, words: Words) -> str:
    """An event as one short sentence without its time."""
    teller = _TELL.get(type(event))
    return teller(event, words) if teller is not None else str(type(event).__name__)


def decoded(row: Row) -> ev.AnyEvent:
    """The event of a row."""
    return ev.decoder.decode(row.line)


def tell_act(rows: Sequence[Row], words: Words) -> str:
    """What was recorded in one go, in a sentence or two."""
    told = [tell(decoded(row), words) for row in rows]
    told = list(dict.fromkeys(told))
    if len(told) > 2:
        more = len(told) - 1
        return ngettext("%(first)s And %(n)d more.", "%(first)s And %(n)d more.", more) % {"first": told[0], "n": more}
    return " ".join(told)


def _portions(portions: Sequence[ev.Portion], words: Words) -> str:
    return ", ".join(f"{one.container} ({words.ml(one.ml)})" for one in portions)


def _expressed(event: ev.Expressed, words: Words) -> str:
    return _("Expressed %(into)s.") % {"into": _portions(event.into, words)}


def _stocked(event: ev.Stocked, words: Words) -> str:
    return _("%(code)s came from the existing stock: %(ml)s, %(place)s.") % {
        "code": event.container, "ml": words.ml(event.ml), "place": event.place}  # fmt: skip


def _moved(event: ev.Moved, words: Words) -> str:
    return _("%(code)s went to %(place)s.") % {"code": event.container, "place": event.to}


def _poured(event: ev.Poured, words: Words) -> str:
    return _("Poured %(from)s into %(into)s.") % {"from": _portions(event.from_, words), "into": event.into}


def _ice(event: ev.ThawSeen, words: Words) -> str:
    told = _("%(code)s: ice still there.") if event.ice else _("%(code)s: no ice left.")
    return told % {"code": event.container}


def _warmed(event: ev.Warmed, words: Words) -> str:
    return _("%(code)s was warmed %(how)s.") % {"code": event.container, "how": HOW[event.how]}


def _began(event: ev.FeedBegan, words: Words) -> str:
    return _("%(child)s began to drink from %(code)s.") % {"child": event.child, "code": event.container}


def _ended(event: ev.FeedEnded, words: Words) -> str:
    if event.left_ml == 0:
        return _("%(code)s was fed, all gone.") % {"code": event.container}
    return _("The feed from %(code)s ended, %(ml)s left.") % {"code": event.container, "ml": words.ml(event.left_ml)}


def _discarded(event: ev.Discarded, words: Words) -> str:
    what = words.ml(event.ml) if event.ml is not None else _("all of it")
    why = f" ({event.why})" if event.why else ""
    return _("%(code)s: %(what)s thrown away%(why)s.") % {"code": event.container, "what": what, "why": why}


def _counted(event: ev.Counted, words: Words) -> str:
    return _("%(code)s was counted: %(ml)s.") % {"code": event.container, "ml": words.ml(event.ml)}


def _added(event: ev.Added, words: Words) -> str:
    return _("%(what)s was added to %(code)s.") % {"code": event.container, "what": ADDED[event.what]}


def _handed(event: ev.HandedOver, words: Words) -> str:
    return _("%(code)s was handed over to %(to)s.") % {"code": event.container, "to": event.to}


def _received(event: ev.Received | ev.Returned, words: Words) -> str:
    told = (
        _("%(code)s was received: %(place)s.")
        if isinstance(event, ev.Received)
        else _("%(code)s came back: %(place)s.")
    )
    return told % {"code": event.container, "place": event.place}


def told_time(written: str, words: Words) -> str:
    """A time or a day as it was written, in words."""
    return written if is_date(written) else words.clock(parse_instant(written))


def held_back(why: Sequence[str], until: str | None, words: Words) -> str:
    """Why milk is held back, and when to look again."""
    told = ", ".join(str(HELD_WHY[one]) for one in why)
    return (
        told if until is None else _("%(why)s. Look again: %(time)s.") % {"why": told, "time": told_time(until, words)}
    )


def _held(event: ev.Held, words: Words) -> str:
    told = _("%(code)s is held back: %(why)s.") % {"code": event.container, "why": HELD_WHY[event.why]}
    if event.until is None:
        return told
    again = told_time(event.until, words)
    return told + " " + _("To look at again: %(again)s.") % {"again": again}


def _released(event: ev.Released, words: Words) -> str:
    return _("%(code)s is no longer held back.") % {"code": event.container}


def _measured(event: ev.Measured, words: Words) -> str:
    about = event.place or event.container
    return _("%(about)s: %(temp)s measured.") % {"about": about, "temp": words.c(event.temp_c)}


def tell_bulk(bulk: Bulk, words: Words) -> str:
    """What was recorded in bulk, in one sentence."""
    n = bulk.size
    if not bulk.place:
        return ngettext("%(n)d entry was taken back.", "%(n)d entries were taken back.", n) % {"n": n}
    told = ngettext(
        "%(n)d temperature of %(place)s, %(low)s to %(high)s.", "%(n)d temperatures of %(place)s, %(low)s to %(high)s.",
        n,
    )  # fmt: skip
    return told % {"n": n, "place": bulk.place, "low": words.c(bulk.coldest_c), "high": words.c(bulk.warmest_c)}


def _power(event: ev.PowerLost | ev.PowerBack, words: Words) -> str:
    lost = isinstance(event, ev.PowerLost)
    told = _("The power went off: %(place)s.") if lost else _("The power came back: %(place)s.")
    full = f" {FULL[event.fill]}" if lost and event.fill is not None else ""
    return told % {"place": event.place} + full


def _of_child(event: ev.Nursed | ev.FedOther | ev.DayComplete | ev.Weighed, words: Words) -> str:
    child = event.child
    if isinstance(event, ev.Nursed):
        return _("%(child)s drank at the breast.") % {"child": child}
    if isinstance(event, ev.FedOther):
        return _("%(child)s had %(what)s.") % {"child": child, "what": OTHER_FEED[event.what]}
    if isinstance(event, ev.DayComplete):
        day = words.day(day_start(event.date, words.zone))
        return _("All feeds of %(child)s are noted: %(day)s.") % {"child": child, "day": day}
    return _("%(child)s weighed %(kg)s kg.") % {"child": child, "kg": f"{event.kg:g}"}


def _checked(event: ev.Checked, words: Words) -> str:
    code = event.container or _label(event.label)
    said = {"child": event.child, "code": code, "why": ", ".join(str(STOPPED_BY.get(one, one)) for one in event.why)}
    if event.found == "match":
        return _("Checked before feeding, %(child)s and %(code)s: a match.") % said
    if said["why"]:
        return _("Checked before feeding, %(child)s and %(code)s: stopped, %(why)s.") % said
    return _("Checked before feeding, %(child)s and %(code)s: stopped.") % said


def _label(label: str | None) -> str:
    """What was read where it is no container of this household; `another family's` as it is kept."""
    if label == "another family's":
        return _("another family's milk")
    return _("the label “%(label)s”") % {"label": label} if label else _("another label")


def _incident(event: ev.Incident, words: Words) -> str:
    told = _("%(child)s got milk that was not meant for this child.") % {"child": event.child}
    return f"{told} {event.says}" if event.says else told


def _cleaned(event: ev.Cleaned, words: Words) -> str:
    return str(CLEANED[event.what, event.how])


def _guideline(name: str) -> str:
    return shipped(name).name if name in shipped_ids() else name


def _household(event: ev.Household, words: Words) -> str:
    also = ", ".join(_guideline(name) for name in event.also)
    named = _guideline(event.guideline or default_id())
    told = _("Household: %(guideline)s, %(zone)s.") % {"guideline": named, "zone": event.zone}
    return told + (" " + _("Also: %(also)s.") % {"also": also} if also else "")


def _place(event: ev.Place, words: Words) -> str:
    temp = f", {words.c(event.temp_c)}" if event.temp_c is not None else ""
    return _("Place %(place)s: %(kind)s%(temp)s.") % {"place": event.place, "kind": KINDS[event.is_], "temp": temp}


def _child(event: ev.Child, words: Words) -> str:
    told = _("%(child)s: care by a hospital.") if event.care == "hospital" else _("%(child)s: healthy, at home.")
    return told % {"child": event.child}


def _voided(event: ev.Voided, words: Words) -> str:
    return _("An entry was corrected.") if event.why == "corrected" else _("An entry was taken back.")


_TELL: dict[type[ev.Event], Callable[[Any, Words], str]] = {
    ev.Expressed: _expressed, ev.Stocked: _stocked, ev.Moved: _moved, ev.Poured: _poured, ev.ThawSeen: _ice,
    ev.Warmed: _warmed, ev.FeedBegan: _began, ev.FeedEnded: _ended, ev.Discarded: _discarded,
    ev.Counted: _counted, ev.Added: _added, ev.HandedOver: _handed, ev.Received: _received,
    ev.Returned: _received, ev.Held: _held, ev.Released: _released, ev.Measured: _measured,
    ev.PowerLost: _power, ev.PowerBack: _power, ev.Nursed: _of_child, ev.FedOther: _of_child,
    ev.DayComplete: _of_child, ev.Weighed: _of_child, ev.Household: _household, ev.Place: _place,
    ev.Child: _child, ev.Checked: _checked, ev.Incident: _incident, ev.Cleaned: _cleaned, ev.Voided: _voided,
}  # fmt: skip
