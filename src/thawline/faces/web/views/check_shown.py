"""What the pages of a check show."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any, NamedTuple

from django.urls import reverse
from django.utils.http import urlencode
from django.utils.translation import gettext as _

from thawline.core.times import MINUTE
from thawline.core.verdict import Verdict
from thawline.faces.request import Request
from thawline.faces.web.acting import words_of
from thawline.faces.web.lines import Step, do_url, milk_line, url_of
from thawline.faces.web.views import check_words
from thawline.faces.words import Words
from thawline.services import checking, checking_why, tags
from thawline.services.board import board
from thawline.services.checking import Kept
from thawline.services.people import Home
from thawline.services.permissions import may
from thawline.services.recording import new_act
from thawline.services.tags import tag_of

# Ours: after so long a match is to be looked at again, for a bottle in the hand changes.
_HOLDS = 15 * MINUTE


class Choice(NamedTuple):
    """One of the labels on a photo."""

    value: str
    label: str


def labels(texts: Sequence[str]) -> list[Choice]:
    """The labels of a photo, each by its code."""
    found = []
    for text in texts:
        read = tags.read(text)
        found.append(Choice(text, read.code[:60] if read is not None else _("a code that is no label of ours")))
    return found


def page(request: Request, kept: Kept) -> dict[str, Any]:
    """What a check found, as it was recorded and as it is now."""
    home, event, words = request.home, kept.event, words_of(request)
    now = checking.again(home, event, now=request.now)
    # A match holds as long as nothing speaks against it; a stop stays one.
    why = tuple(event.why) if event.found == "stop" else now.why if now is not None else ("unknown",)
    state = "stop" if why or event.found == "stop" else "old" if request.now - kept.at > _HOLDS else "match"
    verdict = now.verdict if now is not None else None
    theirs = event.label == checking.ANOTHER_FAMILYS
    label = _("another family's milk") if theirs else event.container or event.label or "?"
    return {
        "state": state, "child": event.child, "code": event.container, "label": label, "theirs": theirs,
        "since": words.hour(kept.at) if event.found == "match" and state == "stop" else "",
        "at": words.clock(kept.at), "by": kept.by,
        "reasons": check_words.reasons(why, child=event.child, label=label),
        **_of_milk(request, verdict, why, state, event.child, words),
        "mix_up_url": _mix_up_url(request, event.child, event.container) if check_words.mixed_up(why) else "",
        "again_url": reverse("web:check"),
    }  # fmt: skip


def _of_milk(
    request: Request, found: Verdict | None, why: Sequence[str], state: str, child: str, words: Words
) -> dict[str, Any]:
    """The milk as it is known now; under a hospital's care without its limits."""
    home = request.home
    seen = board(home.store, now=request.now)
    hidden = "hospital" in why or checking_why.OTHER_CHILD in why
    shown: dict[str, Any] = {"other": _next(home, child, request.now, words) if state == "stop" else None}
    if found is None:
        return shown
    shown["meant"] = check_words.meant(found, several=len(seen.children) > 1)
    shown["page_url"] = care_url(home, found.container) if may(home.role, "serve") else url_of(found.container)
    if state == "match":
        shown["says"] = check_words.match(found, child, words)
        shown["ml"], shown["care"] = words.ml(found.ml), check_words.care(found, words)
        shown["steps"] = _steps(home, found, child, found.container in seen.feeding)
    if not hidden and state != "old":
        shown["milk"] = milk_line(found, words, clock_wrong=seen.clock_wrong)._replace(url="")
    return shown


def _next(home: Home, child: str, now: int, words: Words) -> dict[str, str] | None:
    """What this child may get instead."""
    if child == checking.ANOTHER_CHILD:
        return None
    found = checking_why.next_for(home, child, now=now)
    if found is None or found.use_by is None:
        return {"child": child}
    url = care_url(home, found.container) if may(home.role, "serve") else url_of(found.container)
    return {"child": child, "code": found.container, "ml": words.ml(found.ml), "place": found.place or "",
            "time": words.until(found.use_by), "url": url}  # fmt: skip


def _mix_up_url(request: Request, child: str, code: str | None) -> str:
    asked = {"child": f"{tag_of(request.home.store)}/{child}", **({"code": code} if code else {})}
    return f"{reverse('web:mix_up')}?{urlencode(asked)}"


# What may be noted after a match


def _steps(home: Home, found: Verdict, child: str, feeding: bool) -> list[Step]:
    """Drinking begins, or it is drunk: the forms that are there for it."""
    if may(home.role, "serve"):
        verb, label = ("ended", _("The feed ended")) if feeding else ("began", _("Drinking begins"))
        return [Step(label, care_url(home, found.container, verb, child=child), primary=True, link=True)]
    url, back = do_url(found.container, "feed"), url_of(found.container)

    def step(label: str, how: str, *, primary: bool = False) -> Step:
        fields = [("how", how), ("child", child), ("act", new_act()), ("back", back)]
        return Step(label, url, fields, primary=primary)

    began = [] if feeding else [step(_("Drinking begins"), "began", primary=True)]
    left = Step(_("Some is left"), do_url(found.container, "feed", how="left", child=child), link=True)
    return [*began, step(_("Fed, all gone"), "gone", primary=feeding), left]


def check_url(home: Home, code: str) -> str:
    """The form with a container's label read already."""
    return f"{reverse('web:check')}?{urlencode({'code': code, 'tag': tag_of(home.store)})}"


def care_url(home: Home, code: str, verb: str = "", **preset: str) -> str:
    """The page of a container in a service's window, or where something is noted of it there."""
    args = [tag_of(home.store), *([verb] if verb else [])]
    return f"{reverse('web:care_do' if verb else 'web:care_milk', args=args)}?{urlencode({'code': code, **preset})}"
