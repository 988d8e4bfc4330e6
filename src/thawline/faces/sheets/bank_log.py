"""A container log for a milk bank, as PDF or as a table: facts only."""

from __future__ import annotations

from collections.abc import Sequence
from datetime import date

from django.http import HttpResponse
from django.urls import URLPattern, path
from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from thawline.faces.request import Request
from thawline.faces.sheets import fonts
from thawline.faces.sheets.flow import Pages, answer
from thawline.faces.tell import ADDED, HELD_WHY, HOW
from thawline.faces.words import KINDS, Words, words_for
from thawline.services import bank_log as service
from thawline.services import tables, take_out
from thawline.services.bank_log import Fact, Logged, Origin, Stayed, Which
from thawline.services.board import manners

_TITLES: dict[Which, str] = {
    "frozen": "Frozen milk that is there", "there": "Milk that is there", "handed": "Milk that was handed over",
}  # fmt: skip


def day_word(at: int, words: Words) -> str:
    """A day that stays true on paper."""
    return str(formats.date_format(words.local(at), "j M Y"))


def moment_word(at: int, words: Words) -> str:
    """A day and a time that stay true on paper."""
    return f"{day_word(at, words)} {words.hour(at)}"


def pages_of(logged: Sequence[Logged], words: Words, which: Which, *, paper: str) -> Pages:
    """The whole log, set."""
    fonts.register()
    printed = moment_word(words.now, words)
    foot = _(
        "Facts as a family recorded them, for a milk bank. Whether it takes the milk, the bank alone decides. "
        "Printed by Thawline, %(at)s."
    )
    pages = Pages(paper, title=_("Container log for a milk bank"), foot=foot % {"at": printed})
    pages.text(pages.title, style="title")
    count = ngettext("%(n)d container, %(ml)s", "%(n)d containers, %(ml)s", len(logged)) % {
        "n": len(logged), "ml": words.ml(sum(one.ml for one in logged))}  # fmt: skip
    pages.text(f"{_(_TITLES[which])}: {count}. {printed}, {words.zone.key}.", style="by")
    pages.items([
        _("This log tells what was recorded at home and stands there; an entry that was taken back is not in it. "
          "It says nothing of whether the milk may be given."),
        _("A temperature stands here only where one was measured. “Not measured” means that nobody did."),
        _("What the family held back, and why, is told as recorded. About a medicine ask the bank or a clinician."),
    ])  # fmt: skip
    pages.gap()
    _overview(pages, logged, words)
    if logged:
        pages.head(_("Each container"))
    for one in logged:
        _container(pages, one, words)
    return pages


def _overview(pages: Pages, logged: Sequence[Logged], words: Words) -> None:
    if not logged:
        pages.text(_("There is no such milk in the records."))
        return
    rows = [
        [one.code, words.ml(one.ml), _expressed(one.origins, words), _frozen(one), ", ".join(_held(one)) or _("no"),
         str(len(one.outside)) if one.outside else _("none")]
        for one in logged
    ]  # fmt: skip
    heads = [_("Label"), _("Amount"), _("Expressed"), _("Frozen on"), _("Ever held back"), _("Outside a limit")]
    pages.table(heads, rows, shares=(15, 11, 27, 15, 18, 14), numbers=(1,))
    pages.text(
        _(
            "“Outside a limit”: how often the home guideline in force, not the bank's own rules, names "
            "something as not allowed."
        ),
        style="small",
    )


def _expressed(origins: Sequence[Origin], words: Words) -> str:
    if not origins:
        return _("not known")
    first = _one(origins[0], words)
    if len(origins) == 1:
        return first
    return _("%(first)s to %(last)s (%(n)d sessions)") % {
        "first": first, "last": _one(origins[-1], words), "n": len(origins)}  # fmt: skip


def _one(origin: Origin, words: Words) -> str:
    return day_word(origin.at, words) if origin.vague else moment_word(origin.at, words)


def _frozen(one: Logged) -> str:
    return str(formats.date_format(date.fromisoformat(one.frozen_on), "j M Y")) if one.frozen_on else _("no")


def _held(one: Logged) -> list[str]:
    return [str(HELD_WHY.get(why, why)) for why in one.held]


def _container(pages: Pages, one: Logged, words: Words) -> None:
    there = words.ml(one.ml) if one.there else _("%(ml)s, gone from the household") % {"ml": words.ml(one.ml)}
    rows = [
        [_("Label"), one.code],
        [_("Amount"), there],
        [_("Expressed"), "; ".join(_one(origin, words) for origin in one.origins) or _("not known")],
        [_("Whose milk"), _whose(one.origins)],
        [_("Combined from"), ", ".join(one.combined) or _("not combined")],
        [_("Places"), "; ".join(_stay(stay, words) for stay in one.stays)],
        *_before(one, words),
        [_("Held back"), "; ".join(_fact(fact, words) for fact in one.facts if fact.kind in ("held", "released"))
         or _("never")],
        [_("Outside a limit"), "; ".join(f"{moment_word(fact.at, words)}: {fact.says}" for fact in one.outside)
         or _("nothing recorded")],
        [_("What else happened"), "; ".join(_fact(fact, words) for fact in one.facts
                                           if fact.kind not in ("held", "released")) or _("nothing recorded")],
    ]  # fmt: skip
    pages.table(["", ""], rows, shares=(20, 80), together=all(len(row[1]) < 900 for row in rows))
    pages.gap(8)


def _before(one: Logged, words: Words) -> list[list[str]]:
    """Where the milk lay before it was poured together."""
    told = (f"{code}: {', '.join(_stay(stay, words) for stay in stays)}" for code, stays in one.before)
    return [[_("Before it was poured"), "; ".join(told)]] if one.before else []


def _whose(origins: Sequence[Origin]) -> str:
    """Own milk or donor milk; mothers are counted, not named."""
    mothers = {origin.mother for origin in origins}
    told = _("donor milk among it") if any(origin.donor for origin in origins) else _("the household's own")
    return f"{told}, {_('more than one mother')}" if len(mothers) > 1 else told


def _stay(stay: Stayed, words: Words) -> str:
    kind = str(KINDS.get(stay.kind, stay.kind))
    if stay.coldest_c is None or stay.warmest_c is None:
        temps = _("not measured")
    else:
        temps = ngettext(
            "%(low)s to %(high)s, %(n)d measurement", "%(low)s to %(high)s, %(n)d measurements", stay.measured
        ) % {"low": words.c(stay.coldest_c), "high": words.c(stay.warmest_c), "n": stay.measured}
    at = day_word(stay.at, words) if stay.vague else moment_word(stay.at, words)
    told = {"at": at, "place": stay.place, "kind": kind, "temps": temps}
    return ", ".join(
        [_("from %(at)s %(place)s (%(kind)s): %(temps)s") % told, *(_cut(*one, words) for one in stay.cuts)]
    )


def _cut(lost: int, back: int | None, words: Words) -> str:
    if back is None:
        return _("power out from %(lost)s, not yet noted as back") % {"lost": moment_word(lost, words)}
    return _("power out %(lost)s to %(back)s") % {"lost": moment_word(lost, words), "back": moment_word(back, words)}


def _fact(fact: Fact, words: Words) -> str:
    told = {
        "held": _("held back: %(what)s") % {"what": HELD_WHY.get(fact.says, fact.says)},
        "released": _("no longer held back"),
        "warmed": _("warmed %(what)s") % {"what": HOW.get(fact.says, fact.says)},
        "feed_began": _("a child drank from it"),
        "added": _("%(what)s was added") % {"what": ADDED.get(fact.says, fact.says)},
        "thaw_seen": _("ice was still there") if fact.says == "ice" else _("no ice was left"),
        "handed_over": _("handed over to %(what)s") % {"what": fact.says},
        "returned": _("came back"),
        "received": _("taken in by a childcare service"),
        "measured": _("the milk itself measured %(what)s") % {
            "what": words.c(float(fact.says)) if fact.kind == "measured" else ""},
    }.get(fact.kind, fact.kind)  # fmt: skip
    return f"{moment_word(fact.at, words)}: {told}"


@require_GET
def page(request: Request) -> HttpResponse:
    """The log of the milk asked for, as PDF, or as CSV with `as=csv`."""
    asked = request.GET.get("which", "frozen")
    which: Which = next((one for one in service.WHICH if one == asked), "frozen")
    store, now = request.home.store, request.now
    codes = [code for code in request.GET.getlist("code")[: service.MOST] if code and len(code) <= 200]
    logged = service.bank_log(store, which, now=now, codes=codes)
    zone, units = manners(store, now=now)
    words = words_for(zone, now, units)
    name = f"thawline-log-{words.local(now).date().isoformat()}"
    if request.GET.get("as") == "csv":
        rows = service.rows(logged, take_out.whole(store, now=now))
        found = HttpResponse(b"".join(tables.written_out(rows)), content_type="text/csv; charset=utf-8; header=present")
        found.headers["Content-Disposition"] = f'attachment; filename="{name}.csv"'
        return found
    return answer(pages_of(logged, words, which, paper=request.GET.get("paper", "a4")).pdf(), name)


routes: list[URLPattern] = [path("bank-log/", page, name="bank_log")]
