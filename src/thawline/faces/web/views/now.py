"""What now: what to feed next, and everything that needs a hand."""

from __future__ import annotations

from typing import Any, NamedTuple

from django.http import HttpResponse
from django.shortcuts import render
from django.urls import path, reverse
from django.utils.translation import gettext as _
from django.utils.translation import ngettext
from django.views.decorators.http import require_GET

from thawline.core.verdict import Option, Verdict
from thawline.faces.request import Request
from thawline.faces.tell import held_back
from thawline.faces.web.lines import MilkLine, Step, do_url, milk_line
from thawline.faces.web.views import power, power_silence
from thawline.faces.words import STEPS, Words, words_for
from thawline.services import childcare, handling, next_steps
from thawline.services import power as outages
from thawline.services.board import Board, board, one, with_options
from thawline.services.next_steps import Usual
from thawline.services.recording import new_act


class Shown(NamedTuple):
    """A container's line with its buttons."""

    milk: MilkLine
    steps: list[Step]


class Page:
    """What the first page shows of a board."""

    def __init__(self, request: Request) -> None:
        home = request.home
        self.store = home.store
        self.board: Board = board(home.store, now=request.now)
        self.words: Words = words_for(self.board.settings.zone, request.now, self.board.units)
        self.children = [child.name for child in self.board.children if child.care == "home"]
        asking: list[str | None] = [*self.children] or [None]
        self.next: list[tuple[str | None, Verdict]] = []
        chosen: set[str] = set()
        away = childcare.places(home.store)
        for child in asking:
            # Two children do not drink from one bottle, as long as there are two.
            first = next_steps.feed_next(self.board, home.feed_first, child, but=chosen, away=away)
            found = first or next_steps.feed_next(self.board, home.feed_first, child, away=away)
            if found is not None:
                self.next.append((child, found))
                chosen.add(found.container)
        self.away = away
        hands = next_steps.in_hand(self.board)
        # Nobody at home has a hand on what lies with a service.
        needing = [one for one in hands if one.container not in chosen and one.place not in away]
        self.more = max(0, len(needing) - next_steps.SHOWN)
        self.needing = needing[: next_steps.SHOWN]
        self.dark = {place for place, _lost in outages.out_now(home.store, now=request.now)}
        asked = [*chosen, *(one.container for one in self.needing[: next_steps.CLOSELY])]
        self.options = with_options(home.store, asked, now=request.now)

    def served(self) -> list[tuple[str, str]]:
        """Each service that milk lies with: its name, and how much of the household's is there."""
        found = []
        for service in childcare.services(self.store) if self.away else ():
            there = [one.ml for one in self.board.verdicts if one.place in service.site.places]
            told = ngettext("%(n)d container, %(ml)s", "%(n)d containers, %(ml)s", len(there))
            if there:
                found.append((service.name, told % {"n": len(there), "ml": self.words.ml(sum(there))}))
        return found

    def fed_to(self, found: Verdict) -> str | None:
        """The child that it would be fed to with one tap: the one it is for, else the only one."""
        if found.meant_for in self.children:
            return found.meant_for
        return self.children[0] if len(self.children) == 1 and found.meant_for is None else None

    def shown(self, found: Verdict, child: str | None = None) -> Shown:
        """A container's line, with its usual next steps where it is one of the first."""
        full = self.options.get(found.container)
        if full is None:
            return Shown(milk_line(found, self.words, clock_wrong=self.board.clock_wrong), [])
        usual = [step for step in next_steps.usual(self.board, full, who=child or self.fed_to(full))
                 if not self.powerless(step.option)]  # fmt: skip
        if not usual and full.standing == "outside":
            usual = [Usual("measure", ()), Usual("discard", (("why", "no time given"),))]
        hint = next((said for step in usual if (said := self._hint(full, step.option))), "")
        if full.standing == "held":
            hint = self._held(full.container)
        line = milk_line(full, self.words, hint=hint, clock_wrong=self.board.clock_wrong)
        return Shown(line, [self._step(full, step, number) for number, step in enumerate(usual)])

    def powerless(self, option: Option | None) -> bool:
        """Whether it would be put to freeze where there is no power now."""
        return option is not None and option.do == "freeze" and option.place in self.dark

    def _hint(self, found: Verdict, option: Option | None) -> str:
        """What a step would give if it were done now; nothing where it gains nothing."""
        if option is None or option.do == "feed" or option.then_use_by is None:
            return ""
        thaws = option.do == "thaw"
        if not thaws and found.use_by is not None and option.then_use_by <= found.use_by:
            return ""
        told = _("%(do)s now: then use by %(then)s.") % {
            "do": STEPS[option.do],
            "then": self.words.until(option.then_use_by),
        }
        return f"{told} {_('Once fully thawed, do not refreeze.')}" if thaws else told

    def _held(self, container: str) -> str:
        """Why it is held back, and when to look again."""
        found = one(self.store, container, now=self.board.now)
        return held_back(found.held, handling.held_until(self.store, container), self.words) if found else ""

    def _step(self, found: Verdict, step: Usual, number: int) -> Step:
        fields = [*step.fields, ("act", new_act()), ("back", reverse("web:now"))]
        if asks(step):
            return Step(
                label(step), do_url(found.container, step.verb, **dict(step.fields)), primary=number == 0, link=True
            )
        return Step(label(step), do_url(found.container, step.verb), fields, primary=number == 0)


def asks(step: Usual) -> bool:
    """Whether something has to be asked first, so that the step leads to its form."""
    return step.verb in ("leftover", "measure") or ("how", "left") in step.fields


def label(step: Usual) -> str:
    """What the button of a usual step says."""
    given = dict(step.fields)
    if step.verb == "to" and step.option is not None:
        return _("%(do)s: %(place)s") % {"do": STEPS[step.option.do], "place": given["to"]}
    if step.verb == "feed":
        return _("Some is left") if given.get("how") == "left" else _("Fed, all gone")
    return {
        "discard": _("Throw away"), "leftover": _("Some is left"), "measure": _("Measure it"),
        "ice": _("Ice still there") if given.get("ice") == "yes" else _("No ice left"),
    }[step.verb]  # fmt: skip


@require_GET
def page(request: Request) -> HttpResponse:
    """The first page."""
    found = Page(request)
    sums = [one for one in next_steps.sums(found.board) if one.place not in found.away]
    context: dict[str, Any] = {
        "board": found.board,
        "clock_wrong": found.board.clock_wrong,
        "next": [
            (child if len(found.board.children) > 1 else None, found.shown(one, child)) for child, one in found.next
        ],
        "needing": [found.shown(one) for one in found.needing],
        "unseen": found.more,
        "served": found.served(),
        "sums": [(one.place, found.words.ml(one.ml), one.containers) for one in sums],
        "packed": any(one.kind == "cooler" for one in sums),
        "outage": power.warning(request, found.words),
        "silence": power_silence.question(request, found.words),
        "hospital": [child.name for child in found.board.children if child.care == "hospital"],
    }
    return render(request, "web/now.html", context)


routes = [path("", page, name="now")]
