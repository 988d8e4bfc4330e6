"""What the outlook's page shows of an answer, in words and lines."""

from __future__ import annotations

from datetime import date
from statistics import fmean
from typing import Any

from django.utils.translation import gettext as _
from django.utils.translation import ngettext

from thawline.engines.forecast.kinds import Band
from thawline.faces.web.views.outlook_charts import Reach, flow_chart, reach, stock_chart
from thawline.faces.web.views.outlook_words import (
    GOALS,
    ROUTES,
    about,
    between,
    chance_text,
    day_text,
    few_chances,
    lasts_text,
    looked_at,
    none_text,
    week_day_text,
)
from thawline.faces.web.views.stock_words import named
from thawline.faces.words import Words
from thawline.services.outlook_kinds import Enough, GoalSeen, Lasts, OutlookNow, Route

# A chance below this is told as none; more missing than this share of what is expressed, without a figure. Ours.
_HARDLY, _WIDE = 0.02, 0.25


def shown(found: OutlookNow, words: Words) -> dict[str, Any]:
    """All of an answer; where there is none, only why."""
    none = [dict(zip(("says", "then"), none_text(one, words), strict=True)) | {"code": one.code} for one in found.none]
    page: dict[str, Any] = {"none": none, "child": found.children[0] if found.children else "", "any": bool(found.days)}
    if not found.days:
        return page
    return page | {
        "lasts": lasts_shown(found, words),
        "chances": _chances(found, words),
        "together": named(found.children) if len(found.children) > 1 else "",
        "goal": _goal(found, words),
        "enough": _enough(found, words),
        "routes": _routes(found.routes, words),
        "differ": found.routes_differ,
        "learned": learned(found.complete_days, found.sessions),
        "stock_chart": stock_chart(found, words),
        "flow_chart": flow_chart(found, words),
    }


def lasts_shown(found: OutlookNow, words: Words) -> dict[str, Any]:
    """Until when it lasts: a range, what is likely, and both as a line from today to the last day looked at."""
    says, likely = lasts_text(found.lasts, len(found.days), words)
    return {
        "says": says, "likely": likely, "ends": found.lasts.early is not None,
        "line": _until(found.lasts, found.days[0].day, len(found.days)),
        "freezer": _freezer(found.lasts, words),
        "last": day_text(found.days[-1].day, words),
    }  # fmt: skip


def _freezer(lasts: Lasts, words: Words) -> str:
    """When the freezer is likely empty, where that is another day than the first one on which milk is missing."""
    early, likely, _late = lasts.freezer
    if likely is None or likely == lasts.likely:
        return ""
    says = _("The freezer is likely empty around %(day)s, at the earliest %(early)s.")
    return says % {"day": week_day_text(likely, words), "early": week_day_text(early or likely, words)}


def _until(lasts: Lasts, first: str, days: int) -> Reach:
    def ahead(day: str | None) -> float | None:
        return None if day is None else (date.fromisoformat(day) - date.fromisoformat(first)).days

    early = ahead(lasts.early)
    return reach(days if early is None else early, ahead(lasts.likely), ahead(lasts.late), days)


def _chances(found: OutlookNow, words: Words) -> list[tuple[str, str]]:
    """How likely it is to run short before some days; none where that is hardly possible at all."""
    if max((chance for _day, chance in found.short_chance), default=0.0) < _HARDLY:
        return []
    return [(week_day_text(day, words), chance_text(chance)) for day, chance in few_chances(found.short_chance)]


def _goal(found: OutlookNow, words: Words) -> dict[str, Any] | None:
    goal = found.goal
    if goal is None:
        return None
    most = max(goal.takes.high, goal.there.high, 1.0)
    when = _("from %(on)s to %(until)s")
    return {
        "why": GOALS[goal.why], "when": when % {"on": day_text(goal.on, words), "until": day_text(goal.until, words)},
        "takes": between(goal.takes, words), "takes_line": _line(goal.takes, most),
        "there": between(goal.there, words), "there_line": _line(goal.there, most),
        "chance": chance_text(goal.chance), "extra": _extra(goal.extra_ml, words), "wide": _wide(goal, found),
    }  # fmt: skip


def _extra(extra: Band, words: Words) -> str:
    """What a day more reaches it; empty where nothing more is called for."""
    if extra.high <= 0:
        return ""
    if extra.low <= 0:
        return _("at most %(high)s a day") % {"high": about(extra.high, words)}
    return _("%(range)s a day") % {"range": between(extra, words)}


def _wide(goal: GoalSeen, found: OutlookNow) -> bool:
    """Whether what is missing is so much beside what is expressed that a figure would only press."""
    return goal.beyond or goal.extra_ml.likely > _WIDE * fmean([one.supply.likely for one in found.days])


def _line(band: Band, most: float) -> Reach:
    return reach(band.low, band.likely, band.high, most)


def _enough(found: OutlookNow, words: Words) -> dict[str, Any] | None:
    """What would be too much; None where there is rather too little, for then it helps nobody."""
    enough, days = found.enough, len(found.days)
    if found.lasts.late is not None and not enough.reached and enough.on is None and enough.unused_ml.likely <= 0:
        return None
    unused = between(enough.unused_ml, words) if enough.unused_ml.high > 0 else ""
    near = enough.reached or enough.on is not None
    level = about(enough.ml, words) if near and enough.ml > 0 else ""
    much = near or enough.unused_ml.likely > 0
    return {"says": _enough_says(enough, days, words), "level": level, "unused": unused, "much": much}


def _enough_says(enough: Enough, days: int, words: Words) -> str:
    if enough.reached:
        return _("You have enough.")
    if enough.all_used:
        return _("All that is frozen now likely has a use before its date.")
    if enough.on is not None:
        return _("Around %(day)s there is likely enough.") % {"day": week_day_text(enough.on, words)}
    return _("Too much is not likely within %(days)s.") % {"days": looked_at(days)}


def _routes(routes: tuple[Route, ...], words: Words) -> list[dict[str, Any]]:
    most = max((one.ml.high for one in routes), default=1.0)
    return [
        {
            "name": ROUTES.get(one.code, one.code), "range": between(one.ml, words),
            "likely": about(one.ml.likely, words), "line": _line(one.ml, most), "source": one.source,
        }
        for one in routes
    ]  # fmt: skip


def learned(days: int, sessions: int) -> str:
    """What it rests on of the family's own."""
    if not days and not sessions:
        return _("It has nothing of your own to learn from yet.")
    of_days = ngettext("%(n)d complete day", "%(n)d complete days", days) % {"n": days}
    of_sessions = ngettext("%(n)d session of expressing", "%(n)d sessions of expressing", sessions) % {"n": sessions}
    if not days:
        return _("It has learned from %(sessions)s, and from no complete day yet.") % {"sessions": of_sessions}
    return _("It has learned from %(days)s and %(sessions)s.") % {"days": of_days, "sessions": of_sessions}
