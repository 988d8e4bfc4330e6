"""What a check says: each reason of a stop with what to do instead, and what to do with milk that is a match."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from thawline.core.verdict import Verdict
from thawline.faces.words import Words
from thawline.services.checking_why import OTHER_CHILD


class Reason(NamedTuple):
    """Why it is stopped, and what to do instead."""

    says: str
    do: str


_SAYS: dict[str, tuple[str | Promise, str | Promise]] = {
    "other_child": (
        gettext_lazy("This milk is not for %(child)s."),
        gettext_lazy("Put it back. Take the one that is for %(child)s."),
    ),
    "not_ours": (
        gettext_lazy("This is not a label of this household."),
        gettext_lazy("Put it back, and ask whose it is."),
    ),
    "unknown": (
        gettext_lazy("No milk is noted under “%(label)s”."),
        gettext_lazy("Look at the label once more. If it stays unclear, do not feed it."),
    ),
    "unsure": (
        gettext_lazy("More than one container may be meant."),
        gettext_lazy("Take a photo of its label, or type the code exactly as it stands there."),
    ),
    "gone": (
        gettext_lazy("It is noted as gone."),
        gettext_lazy("What is in your hand is another milk, or was noted wrongly. Do not feed it by this label."),
    ),
    "hospital": (
        gettext_lazy("A hospital's care counts here."),
        gettext_lazy("Follow the care team: ask them before this feed. Limits for home are not shown."),
    ),
    "drunk": (
        gettext_lazy("Another child drank from it already."),
        gettext_lazy("What is left from a feed is for the child who began it. Take another one for %(child)s."),
    ),
    "breached": (gettext_lazy("A rule was broken with it."), gettext_lazy("Do not feed it. Its page says which rule.")),
    "past": (
        gettext_lazy("It is past its limit."),
        gettext_lazy("Do not feed it. When unsure, letting it go is right."),
    ),
    "held": (gettext_lazy("It is held back."), gettext_lazy("Put it back until a parent releases it.")),
    "outside": (
        gettext_lazy("The guideline gives it no time as it lies now."),
        gettext_lazy("Do not feed it yet. Its page says what may still be done."),
    ),
    "frozen": (
        gettext_lazy("Not yet: it is noted as frozen."),
        gettext_lazy("Thaw it first, in the refrigerator or in warm water, and note it. Then check again."),
    ),
    "thawing": (
        gettext_lazy("Not yet: ice may be in it."),
        gettext_lazy("Look for ice. When none is left, note it, and check again."),
    ),
    "clock": (
        gettext_lazy("The Thawline computer's clock stands before its newest record."),
        gettext_lazy("No time can be told until it is set right. Until then go by the label and another clock."),
    ),
}  # fmt: skip


def reasons(why: Sequence[str], *, child: str, label: str) -> list[Reason]:
    """Each reason in words; a code that this version does not know speaks for caution."""
    said = {"child": child, "label": label}
    found = [_SAYS.get(code, _SAYS["unknown"]) for code in why]
    return [Reason(str(says) % said, str(do) % said) for says, do in dict.fromkeys(found)]


def meant(found: Verdict | None, *, several: bool) -> str:
    """For whom the milk is; nothing where the household has one child."""
    if found is None:
        return ""
    if found.meant_for is None:
        return (
            _("It is noted for no child in particular: it counts for every child of the household.") if several else ""
        )
    return _("It is for %(child)s.") % {"child": found.meant_for}


def match(found: Verdict, child: str, words: Words) -> str:
    """The sentence of a match: what it is, for whom, until when; never more than that."""
    if found.use_by is None:
        return _("This is %(code)s, and it is for %(child)s.") % {"code": found.container, "child": child}
    said = {"code": found.container, "child": child, "time": words.until(found.use_by)}
    return _("This is %(code)s, for %(child)s, within its limits until %(time)s.") % said


def care(found: Verdict, words: Words) -> list[str]:
    """What to do with it now, in order."""
    told = []
    if found.warmed is None and found.fed_from is None:
        told.append(_("If you warm it: in warm water, not above 40 °C (104 °F), never in a microwave."))
    if found.form == "thawing":
        told.append(_("Look that no ice is left."))
    told.append(_("Swirl it, and test a drop on your wrist."))
    feed = next((one for one in found.options if one.do == "feed" and one.then_use_by is not None), None)
    if feed is not None and feed.then_use_by is not None:
        said = {"time": words.until(feed.then_use_by)}
        told.append(
            _("If it is fed now, what is left is used by %(time)s, else thrown away. Do not pour it back.") % said
        )
    return told


def mixed_up(why: Sequence[str]) -> bool:
    """Whether the steps for a mix-up are worth a link."""
    return OTHER_CHILD in why
