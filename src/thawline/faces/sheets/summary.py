"""A summary for a clinician or a lactation consultant, as PDF."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date

from django.http import HttpResponse
from django.urls import URLPattern, path
from django.utils import formats
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from thawline.core.units import ML_PER_FL_OZ
from thawline.faces.request import Request
from thawline.faces.sheets import fonts
from thawline.faces.sheets.flow import Pages, answer
from thawline.faces.sheets.summary_charts import Bar, bars
from thawline.faces.words import Words, words_for
from thawline.services import summary as service
from thawline.services.board import manners
from thawline.services.summary import Child, Day, Out, Summary

_MEAN_DAYS = 7


def day_word(iso: str, *, year: bool = False) -> str:
    """A day that stays true on paper."""
    return str(formats.date_format(date.fromisoformat(iso), "D j M Y" if year else "D j M"))


def pages_of(found: Summary, words: Words, *, names: bool, paper: str) -> Pages:
    """The whole summary, set."""
    fonts.register()
    first, last = found.days[0].iso, found.days[-1].iso
    span = _("%(first)s to %(last)s") % {"first": day_word(first, year=True), "last": day_word(last, year=True)}
    foot = _(
        "What a family wrote down at home. It is no diagnosis and no advice. Printed by Thawline, %(day)s."
    ) % {"day": day_word(last, year=True)}  # fmt: skip
    title = _("Expressing and feeding: %(n)d days") % {"n": len(found.days)}
    pages = Pages(paper, title=title, foot=foot)
    pages.text(title, style="title")
    pages.text(_("%(span)s, for a clinician or a lactation consultant") % {"span": span}, style="by")
    called = _called(found, names=names)
    _children(pages, found, called)
    _glance(pages, found, words)
    _pictures(pages, found, words)
    _weights(pages, found, called)
    _stock(pages, found, words)
    _gone(pages, found, words, names=names)
    _unknown(pages, found)
    _daily(pages, found, words)
    return pages


def _called(found: Summary, *, names: bool) -> dict[str, str]:
    """What each child is called on the sheet."""
    alone = len(found.children) == 1
    return {
        one.name: one.name if names else _("The child") if alone else _("Child %(n)d") % {"n": number}
        for number, one in enumerate(found.children, 1)
    }


def _children(pages: Pages, found: Summary, called: Mapping[str, str]) -> None:
    today = date.fromisoformat(found.days[-1].iso)
    for child in found.children:
        pages.text(_child(child, called[child.name], today))
    if any(child.hospital for child in found.children):
        pages.text(_("A child here is under a hospital's care: its care team's rules apply, not a home guideline."))


def _child(child: Child, called: str, today: date) -> str:
    months, days = service.age_of(child.born, today)
    age = _("%(months)s and %(days)s") % {
        "months": ngettext("%(n)d month", "%(n)d months", months) % {"n": months},
        "days": ngettext("%(n)d day", "%(n)d days", days) % {"n": days},
    }
    return _("%(child)s: born %(born)s, %(age)s old (%(all)d days since birth).") % {
        "child": called, "born": day_word(child.born, year=True), "age": age,
        "all": (today - date.fromisoformat(child.born)).days,
    }  # fmt: skip


# ---- at a glance -------------------------------------------------------------------------------------------


def _glance(pages: Pages, found: Summary, words: Words) -> None:
    count = len(found.days)
    pages.head(_("At a glance"))
    rows = [
        [_("Expressed"), words.ml(found.total("expressed_ml")), _each(found, "expressed_ml", words)],
        [_("Sessions"), str(found.sessions), _per_session(found, words)],
        [_("Drunk from bottles"), words.ml(found.total("drunk_ml")), _each(found, "drunk_ml", words)],
        [_("Feeds from bottles"), str(round(found.total("bottles"))),
         _("%(ml)s left in the bottles") % {"ml": words.ml(found.total("left_ml"))}],
        [_("Feeds at the breast"), str(round(found.total("nursed"))),
         _("%(n).1f a day; amounts are not measured") % {"n": found.total("nursed") / count}],
    ]  # fmt: skip
    if found.total("other_ml"):
        rows.append(
            [_("Formula, donor milk, other"), words.ml(found.total("other_ml")), _each(found, "other_ml", words)]
        )
    pages.table(["", _("in all"), ""], rows, shares=(30, 18, 52), numbers=(1,), together=True)
    pages.text(_trend(found, words))


def _each(found: Summary, field: str, words: Words) -> str:
    return _("%(ml)s a day on average, days without any counted too") % {
        "ml": words.ml(found.total(field) / len(found.days))
    }


def _per_session(found: Summary, words: Words) -> str:
    if not found.sessions:
        return _("none noted")
    sides = ", ".join(f"{_side(one.why)} {one.times}" for one in found.sides)
    each = found.total("expressed_ml") / found.sessions
    told = _("%(n).1f a day, %(ml)s each on average; sides: %(sides)s")
    return told % {"n": found.sessions / len(found.days), "ml": words.ml(each), "sides": sides}


def _side(code: str) -> str:
    return {"left": _("left"), "right": _("right"), "both": _("both")}.get(code, _("not noted"))


def _trend(found: Summary, words: Words) -> str:
    trend = found.trend()
    if trend is None:
        return _("For a trend, two whole weeks with sessions are needed.")
    last, before = trend
    change = _("%(percent)+d %%") % {"percent": round(100 * (last / before - 1))} if before else ""
    told = _(
        "The last seven whole days brought %(last)s a day, the seven before %(before)s (%(change)s). "
        "Days differ much by themselves."
    )
    return told % {"last": words.ml(last), "before": words.ml(before), "change": change}


# ---- pictures ----------------------------------------------------------------------------------------------


def _amount(ml: float, words: Words) -> float:
    return ml / ML_PER_FL_OZ if words.amount == "fl_oz" else ml


def _ticks(days: tuple[Day, ...]) -> list[str]:
    """A word under every so manieth day, so that they keep apart."""
    every = max(1, -(-len(days) // 10))
    return [
        str(formats.date_format(date.fromisoformat(day.iso), "j M")) if number % every == 0 else ""
        for number, day in enumerate(days)
    ]


def _means(values: list[float]) -> list[float | None]:
    """The mean of seven days up to each; none before there are seven, nor for today, which is not over."""
    whole = [None if n + 1 < _MEAN_DAYS else sum(values[n + 1 - _MEAN_DAYS : n + 1]) / _MEAN_DAYS
             for n in range(len(values) - 1)]  # fmt: skip
    return [*whole, None]


def _pictures(pages: Pages, found: Summary, words: Words) -> None:
    unit = "fl oz" if words.amount == "fl_oz" else "mL"
    ticks = _ticks(found.days)
    expressed = [_amount(day.expressed_ml, words) for day in found.days]
    pages.head(_("Expressed by day"))
    pages.picture(
        bars([Bar(*one) for one in zip(ticks, expressed, strict=True)], width=pages.width, unit=unit,
             mean=_means(expressed)),
        _("A bar is a day, the line the mean of the seven days up to it. The last bar is today, which is not over."),
    )  # fmt: skip
    if found.total("bottles"):
        pages.head(_("From bottles by day"))
        drunk = [Bar(tick, _amount(day.drunk_ml, words), _amount(day.left_ml, words))
                 for tick, day in zip(ticks, found.days, strict=True)]  # fmt: skip
        pages.picture(bars(drunk, width=pages.width, unit=unit), _("Filled: drunk. Hollow, above: left in the bottle."))
    if any(count for count, _ml in found.hours):
        pages.head(_("Sessions by hour of the day"))
        hours = [Bar(f"{hour}" if hour % 2 == 0 else "", count) for hour, (count, _ml) in enumerate(found.hours)]
        pages.picture(bars(hours, width=pages.width, height=92, unit=_("sessions")), _hours_says(found, words))


def _hours_says(found: Summary, words: Words) -> str:
    parts = []
    for start, word in ((0, _("0 to 6 o'clock")), (6, _("6 to 12")), (12, _("12 to 18")), (18, _("18 to 24"))):
        count = sum(n for n, _ml in found.hours[start : start + 6])
        ml = sum(ml for _n, ml in found.hours[start : start + 6])
        if count:
            parts.append(_("%(when)s: %(ml)s each") % {"when": word, "ml": words.ml(ml / count)})
    return _("By the start of each session, on the family's clock. %(parts)s.") % {"parts": "; ".join(parts)}


# ---- tables ------------------------------------------------------------------------------------------------


def _weights(pages: Pages, found: Summary, called: Mapping[str, str]) -> None:
    rows = [
        [called[child.name], day_word(found_day(one.at, found), year=True), _("%(n)d days") % {"n": int(one.age_d)},
         f"{one.kg:.2f} kg", _centile(one.percentile)]
        for child in found.children for one in child.weights
    ]  # fmt: skip
    if not rows:
        return
    pages.head(_("Weights that were noted"))
    pages.table([_("Child"), _("Day"), _("Age"), _("Weight"), _("WHO centile")], rows, shares=(24, 26, 16, 16, 18),
                numbers=(2, 3, 4), together=len(rows) < 15)  # fmt: skip
    unsure = any(
        child.sex is None and any(one.percentile is not None for one in child.weights) for child in found.children
    )
    pages.text(
        _("Centile: WHO Child Growth Standards, weight-for-age, birth to 24 months (WHO, 2006); "
            "age is not corrected for preterm birth. Scales at home differ: a centile here is for orientation."),
        _("Where no sex is noted, the mean of girls and boys stands in.") if unsure else "",
        style="small",
    )  # fmt: skip


def found_day(at: int, found: Summary) -> str:
    """The day of an instant on the household's clock, ISO."""
    return words_for(found.zone, found.now).local(at).date().isoformat()


def _centile(percentile: float | None) -> str:
    if percentile is None:
        return _("not told")
    return _("under 1") if percentile < 1 else _("over 99") if percentile > 99 else f"{percentile:.0f}"


def _stock(pages: Pages, found: Summary, words: Words) -> None:
    pages.head(_("Milk in store today"))
    if not found.stock:
        pages.text(_("None."))
        return
    rows = [
        [one.place, _("frozen") if one.frozen else _("not frozen"), str(one.containers), words.ml(one.ml),
         day_word(found_day(one.oldest, found), year=True)]
        for one in found.stock
    ]  # fmt: skip
    rows.append([_("All"), "", str(sum(one.containers for one in found.stock)),
                 words.ml(sum(one.ml for one in found.stock)), ""])  # fmt: skip
    heads = [_("Place"), "", _("Containers"), _("Amount"), _("Oldest expressed")]
    pages.table(heads, rows, shares=(30, 18, 14, 16, 22), numbers=(2, 3), together=len(rows) < 15, total=True)


def _gone(pages: Pages, found: Summary, words: Words, *, names: bool) -> None:
    pages.head(_("Thrown away, and why"))
    if found.thrown:
        rows = _out_rows(found.thrown, words, _("no reason noted"))
        pages.table([_("Reason"), _("Times"), _("Amount")], rows, shares=(60, 18, 22), numbers=(1, 2),
                    together=len(rows) < 15, total=True)  # fmt: skip
    else:
        pages.text(_("None noted."))
    if found.handed:
        pages.head(_("Handed over"))
        given = found.handed if names else (Out("", sum(one.times for one in found.handed),
                                               sum(one.ml for one in found.handed)),)  # fmt: skip
        rows = _out_rows(given, words, _("to others"))
        pages.table([_("To"), _("Containers"), _("Amount")], rows, shares=(60, 18, 22), numbers=(1, 2),
                    together=len(rows) < 15, total=True)  # fmt: skip


def _out_rows(gone: tuple[Out, ...], words: Words, nameless: str) -> list[list[str]]:
    rows = [[_(one.why) if one.why else nameless, str(one.times), words.ml(one.ml)] for one in gone]
    return [*rows, [_("All"), str(sum(one.times for one in gone)), words.ml(sum(one.ml for one in gone))]]


def _unknown(pages: Pages, found: Summary) -> None:
    pages.head(_("What is not known"))
    blank = ngettext(
        "On %(n)d of these days nothing was noted; it counts as none.",
        "On %(n)d of these days nothing was noted; it counts as none.", found.blank,
    ) % {"n": found.blank}  # fmt: skip
    brought = ngettext(
        "%(n)d session came from an older table; what became of its milk is not known.",
        "%(n)d sessions came from an older table; what became of their milk is not known.", found.brought_in,
    ) % {"n": found.brought_in}  # fmt: skip
    pages.items([
        _("What a child drinks at the breast is not measured, so the amounts here are no whole day's intake."),
        _("What a pump or a hand brings says little of how much milk there is; it differs with time, kit and rest."),
        _("Amounts are as read off at home, by the marks on a bottle or a bag. What was not noted is missing here."),
        blank if found.blank else "",
        brought if found.brought_in else "",
        _("For a baby who is preterm, ill or in hospital the care team's rules apply. In doubt ask a professional."),
    ])  # fmt: skip


def _daily(pages: Pages, found: Summary, words: Words) -> None:
    pages.head(_("Day by day"))
    other = bool(found.total("other_ml"))
    rows = [
        [day_word(day.iso), str(day.sessions), words.ml(day.expressed_ml), str(day.bottles), words.ml(day.drunk_ml),
         words.ml(day.left_ml), str(day.nursed), *([words.ml(day.other_ml)] if other else [])]
        for day in found.days
    ]  # fmt: skip
    total = [_("All"), str(found.sessions), words.ml(found.total("expressed_ml")), str(round(found.total("bottles"))),
             words.ml(found.total("drunk_ml")), words.ml(found.total("left_ml")), str(round(found.total("nursed"))),
             *([words.ml(found.total("other_ml"))] if other else [])]  # fmt: skip
    heads = [_("Day"), _("Sessions"), _("Expressed"), _("Bottle feeds"), _("Drunk"), _("Left"), _("At the breast"),
             *([_("Other")] if other else [])]  # fmt: skip
    shares = (20, 11, 15, 11, 13, 13, 13, *((13,) if other else ()))
    pages.table(heads, [*rows, total], shares=shares, numbers=range(1, len(heads)), total=True)


@require_GET
def page(request: Request) -> HttpResponse:
    """The summary of so many days; without names unless they are asked for."""
    zone, units = manners(request.home.store, now=request.now)
    days = service.days_of(request.GET.get("days", ""))
    found = service.summary(request.home.store, now=request.now, days=days)
    words = words_for(zone, request.now, units)
    names, paper = request.GET.get("names") == "yes", request.GET.get("paper", "a4")
    return answer(pages_of(found, words, names=names, paper=paper).pdf(), f"thawline-summary-{found.days[-1].iso}")


routes: list[URLPattern] = [path("summary/", page, name="summary")]
