"""Why, and how well: the codes of plan and outlook in words."""

from __future__ import annotations

from collections import defaultdict
from typing import NamedTuple

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext

from thawline.core.times import DAY, HOUR, MINUTE
from thawline.core.units import ML_PER_FL_OZ
from thawline.engines.forecast.kinds import Band
from thawline.engines.planner.kinds import Reason
from thawline.faces.web.views.heat_kit import hours_text
from thawline.faces.web.views.outlook_words import about, between
from thawline.faces.web.views.stock_words import named
from thawline.faces.words import Words
from thawline.services.habits_faults import HOME
from thawline.services.plan_coming import COMING
from thawline.services.plan_kinds import PlanNow, PlanShort, Portions

WHERE = {
    "": "",
    HOME: "",
    "childcare": gettext_lazy("childcare"),
    "trip": gettext_lazy("on the way"),
}
# Why these sizes: `engines/forecast/portions.py`.
SIZES: dict[str, str | Promise] = {
    "own_feeds": gettext_lazy("From %(feeds)s feeds that you noted, about %(ml)s each."),
    "usual_feeds": gettext_lazy("No feeds of your own are noted yet, so from what is usual: about %(ml)s a feed."),
    "poured_away_soon": gettext_lazy(
        "A leftover has to be poured away within %(hours)s here, so small pours waste less."
    ),
    "offered_again": gettext_lazy("A leftover may be offered again within %(hours)s here, so a pour may be larger."),
    "few_small_and_spare": gettext_lazy("A few small ones and a spare of %(ml)s waste less than one large one."),
    "freeze_mostly": gettext_lazy("Freeze most in %(ml)s, and some in %(some_ml)s to top up with."),
    "none_larger": gettext_lazy("At this age none larger than %(ml)s."),
}
# Why this milk for this feed: `engines/planner/reasons.py`.
MILK: dict[str, str | Promise] = {
    "thawed_already": gettext_lazy("Thawed already, and not to be frozen again: use by %(until)s."),
    "only_one": gettext_lazy("The only milk that fits this feed."),
    "ends_first": gettext_lazy("Its time ends first: %(until)s."),
    "oldest": gettext_lazy("The oldest that fits this feed."),
    "best_by_near": gettext_lazy("Best by %(best)s."),
    "saves_milk": gettext_lazy("This way least is left over."),
    "saves_bag": gettext_lazy("With it no bag has to be opened."),
    "rotation_day": gettext_lazy("On this day the milk comes from the freezer, and fresh milk is frozen."),
    "opened_then": gettext_lazy("Thawed by then; what was taken out is used up."),
    "fits": gettext_lazy("Its size leaves least over, and it is among the oldest."),
}
# Why a chore; the last three are the board's own.
CHORES: dict[str, str | Promise] = {
    "needed_then": gettext_lazy("Needed %(at)s."),
    "thaw_quick": gettext_lazy(
        "Too soon to thaw it in the fridge. Only for this feed: what is left of it does not keep."
    ),
    "freezer_ends": gettext_lazy("Its time in the freezer ends %(until)s."),
    "over": gettext_lazy("No feed needs it before its time ends, %(until)s. Once frozen: %(frozen_until)s."),
    "over_young": gettext_lazy("No feed of the next days needs it. Frozen while it is young: %(frozen_until)s."),
    "put_away": gettext_lazy("It is not put away yet."),
    "left_over": gettext_lazy("What may be left of a thawed bag. Not to be frozen again."),
    "not_needed": gettext_lazy("Until then it may be fed, but no feed is expected to need it. Not to be frozen."),
    "past": gettext_lazy("Its time is over."),
    "breached": gettext_lazy("A rule was broken with it."),
    "outside": gettext_lazy("No time is given for it as it is: look at it first."),
}
# Where no feed is foretold, nothing is known of what a feed needs.
UNFORETOLD: dict[str, str | Promise] = {
    "over": gettext_lazy("Only if it will not be fed before its time ends, %(until)s. Once frozen: %(frozen_until)s."),
    "not_needed": gettext_lazy("Until then it may be fed. Not to be frozen."),
}
# What would help where there is too little.
MENDS: dict[str, str | Promise] = {
    "express_in_time": gettext_lazy("If milk is expressed before %(by)s anyway, it counts too."),
    "thaw_quick_then": gettext_lazy("%(lot)s could be thawed in water at the feed."),
    "open_one_more": gettext_lazy("%(lot)s could be opened as well; about %(over_ml)s of it would be left over."),
    "a_moment_for_chores": gettext_lazy("%(lot)s would be ready if somebody took it out by %(by)s."),
    "once_frozen": gettext_lazy("%(lot)s, frozen %(at)s, could be thawed for it."),
    "clear_hold": gettext_lazy("%(lot)s is held back: once what holds it is settled, it may do."),
    "older_first": gettext_lazy("%(lot)s would fit, but older milk goes first."),
    "other_milk": gettext_lazy("Other milk or formula, as you have settled with whoever advises you."),
}
SAYS = {**SIZES, **MILK, **CHORES, **MENDS}
_INSTANTS = ("at", "best", "by", "until", "frozen_until")
# An end further away than this is none that a guideline gives.
_FAR = 20 * 366 * DAY
# So many lacks are told at once; those after them are folded.
LACKS = 2
# Less than this is within what any feed strays by: ours.
LEAST_ML = 5.0
# Less than this missing is told at its feed alone: ours.
_LACK_ML = 15.0


def roughly(at: int) -> int:
    """An expected time, down to the quarter of an hour."""
    return at - at % (15 * MINUTE)


class Lacks(NamedTuple):
    """What is not there, the first of it and the rest, and what would help with the first."""

    first: list[str]
    rest: list[str]
    mends: list[str]
    at: int


class Sized(NamedTuple):
    """The sizes for one place: sentences, and why."""

    where: str
    says: list[str]
    why: list[str]


class Teller:
    """Tells what a plan says in this household's words."""

    def __init__(self, plan: PlanNow, words: Words) -> None:
        self.plan, self.words = plan, words

    def says(self, reason: Reason) -> str:
        """A reason in one line; empty where its code has no words."""
        told = SAYS.get(reason.code) if self.plan.feeds else UNFORETOLD.get(reason.code, SAYS.get(reason.code))
        if told is None:
            return ""
        args = defaultdict(str, {name: self._arg(name, value) for name, value in reason.args})
        return str(told) % args

    def _arg(self, name: str, value: str | float) -> str:
        if isinstance(value, str):
            return self._named(name, value)
        if name in _INSTANTS:
            return self._when(name, int(value))
        if name == "ml" or name.endswith("_ml"):
            return self.words.ml(value)
        if name == "hours":
            return hours_text(value)
        if name.endswith("_h"):
            return self._when(name.removesuffix("_h"), self.plan.now + round(value * HOUR))
        return f"{value:.0f}"

    def _named(self, name: str, value: str) -> str:
        if name == "where":
            return self.where(value) or _("home")
        return _("milk still to be expressed") if value.startswith(f"{COMING}.") else value

    def _when(self, name: str, at: int) -> str:
        if name in ("at", "by"):
            return self.words.clock(roughly(at))
        far = at - self.plan.now > _FAR
        if name == "frozen_until":
            return _("no end is given") if far else _("use before %(day)s") % {"day": self.words.day(at)}
        return _("no end is given") if far else self.words.until(at)

    def where(self, where: str) -> str:
        """A place where milk is drunk; empty at home."""
        return str(WHERE.get(where, where))

    # What is short, what is thrown away

    def lacks(self) -> Lacks | None:
        """What can't be met, calmly; None where nothing is missing."""
        rows = sorted((one for one in self.plan.short if one.ml >= _LACK_ML), key=lambda one: one.at)
        if not rows:
            return None
        told = [self._lack(one) for one in rows]
        mends = [said for said in dict.fromkeys(map(self.says, rows[0].mends)) if said]
        return Lacks(told[:LACKS], told[LACKS:], mends, rows[0].at)

    def _lack(self, one: PlanShort) -> str:
        who = ", ".join(filter(None, [one.child, self.where(one.where)]))
        says = _("from %(time)s about %(ml)s may be missing.") % {
            "time": self.words.clock(roughly(one.at)), "ml": self.about(one.ml)}  # fmt: skip
        return f"{who}: {says}" if who else says[:1].upper() + says[1:]

    def thrown(self) -> str:
        """What this plan leaves to be thrown away."""
        ml = sum(one for _code, one in self.plan.thrown)
        if ml < 1:
            return _("As planned, nothing is thrown away.")
        codes = named(list(dict.fromkeys(self._named("lot", code) for code, _ml in self.plan.thrown)))
        return _("As planned, about %(ml)s are thrown away (%(codes)s).") % {"ml": self.words.ml(ml), "codes": codes}

    def good(self) -> str:
        """How much better a plan could be at most; empty where nothing is thrown away and nothing is missing."""
        short = any(one.ml >= 1 for one in self.plan.short)
        if not short and sum(one for _code, one in self.plan.thrown) < 1:
            return ""
        if not self.plan.proven:
            return _("Whether a better plan is possible was not looked at yet.")
        if self.plan.better_ml < 1:
            return _("No other plan would do better.") if short else _("No other plan would throw away less.")
        ml = {"ml": self.words.ml(self.plan.better_ml)}
        if short:
            return (
                _("Another plan could do at most %(ml)s better; milk missing counts more than milk thrown away.") % ml
            )
        if self.plan.better_ml >= sum(one for _code, one in self.plan.thrown):
            return _("It may be that a plan without that is possible.")
        return _("No other plan would throw away more than %(ml)s less.") % ml

    @property
    def may_improve(self) -> bool:
        """Whether looking closer could find a better plan."""
        return not self.plan.refined and (self.plan.better_ml >= 1 or not self.plan.proven)

    # Amounts

    def about(self, ml: float) -> str:
        """A planned amount, rounded to 5 mL or to half an ounce, for it is an estimate."""
        step = ML_PER_FL_OZ / 2 if self.words.amount == "fl_oz" else 5.0
        return self.words.ml(max(step, round(ml / step) * step))

    def poured(self, ml: float) -> str:
        """A size to pour or to freeze, as a bottle's marks tell it: in half ounces."""
        step = ML_PER_FL_OZ / 2
        return self.words.ml(max(step, round(ml / step) * step)) if self.words.amount == "fl_oz" else self.words.ml(ml)

    def pours(self, first_ml: float, step_ml: float) -> str:
        """How to pour a feed."""
        return _("Pour %(first)s first, then %(step)s at a time.") % {
            "first": self.poured(first_ml), "step": self.poured(step_ml)}  # fmt: skip

    def needs(self) -> list[tuple[str, str]]:
        """What may be drunk from bottles tomorrow, as ranges."""
        return [
            (_("%(child)s, tomorrow") % {"child": name} if name else _("Tomorrow"), self.range(band))
            for name, band in self.plan.need.items()
            if band.high >= 1
        ]

    def range(self, band: Band) -> str:
        """A range in the household's unit."""
        return _("%(range)s, most likely about %(likely)s") % {
            "range": between(band, self.words), "likely": about(band.likely, self.words)}  # fmt: skip

    def sizes(self) -> list[Sized]:
        """In which sizes to freeze, pour and pack, for each place."""
        found = [self._sized(one) for one in self.plan.portions]
        told: set[str] = set()
        fresh = []
        for one in found:
            fresh.append(one._replace(says=[says for says in one.says if says not in told]))
            told |= set(one.says)
        return [one for one in fresh if one.says]

    def _sized(self, one: Portions) -> Sized:
        mostly = next((why for why in one.reasons if why.code == "freeze_mostly"), None)
        usual = mostly is not None and dict(mostly.args).get("ml") == one.freeze_ml
        says = [
            self.says(mostly)
            if mostly is not None and usual
            else _("Freeze in portions of about %(ml)s.") % {"ml": self.poured(one.freeze_ml)}
        ]
        if one.pour_ml > 0 and self.plan.feeds:
            says.append(self.pours(one.pour_ml, one.step_ml))
        if one.where != HOME and (bottles := self.bottles(one)):
            says.append(bottles)
        where = self.where(one.where) or (_("At home") if len(self.plan.portions) > 1 else "")
        why = [self.says(why) for why in one.reasons if why.code != "freeze_mostly"]
        if one.left_ml >= 1 and self.plan.feeds:
            why.append(_("About %(ml)s a feed are then left over, estimated.") % {"ml": self.about(one.left_ml)})
        return Sized(where, says, why)

    def bottles(self, one: Portions | None) -> str:
        """Which bottles to pack, and the spare; empty where nothing is known."""
        if one is None or not one.bottles:
            return ""
        told = []
        for ml in dict.fromkeys(one.bottles):
            count = one.bottles.count(ml)
            told.append(_("%(n)d of %(ml)s") % {"n": count, "ml": self.poured(ml)})
        bottles = ngettext("Bottle to fill: %(all)s", "Bottles to fill: %(all)s", len(one.bottles)) % {
            "all": ", ".join(told)}  # fmt: skip
        spare = _("; and a spare of %(ml)s") % {"ml": self.poured(one.spare_ml)} if one.spare_ml else ""
        return f"{bottles}{spare}."
