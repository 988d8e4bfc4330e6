"""A childcare service's window as its pages see it: the families, their milk there, and nothing else of them."""

from __future__ import annotations

from typing import Any, NamedTuple
from urllib.parse import urlencode

from django.http import Http404
from django.urls import reverse
from django.utils.translation import gettext as _

from thawline.core.verdict import Verdict
from thawline.faces import handing
from thawline.faces.request import Request
from thawline.faces.web.lines import MilkLine, milk_line
from thawline.faces.web.views.milk_sheet import Sheet
from thawline.faces.words import Words, words_for
from thawline.services import checking_codes, childcare, labels, people
from thawline.services.board import Board, board
from thawline.services.childcare import ServiceNow
from thawline.services.childcare_rules import Deadline, child_of, closing_at, deadlines, urgency
from thawline.services.people import Home
from thawline.services.permissions import may
from thawline.services.recording import new_act
from thawline.services.tags import tag_of


class Milk(NamedTuple):
    """A container in the window: its line, and the rule that gives its time.

    `given`: it was handed over, and nobody noted yet that it arrived.
    """

    milk: MilkLine
    child: str
    by: str
    then: str
    begun: bool
    given: bool


class Family(NamedTuple):
    """One family's window: whose, at which service, and what stands in it."""

    home: Home
    tag: str
    service: ServiceNow
    board: Board
    words: Words
    found: list[Deadline]
    awaited: list[str]

    @property
    def url(self) -> str:
        """Its page."""
        return reverse("web:care_home", args=[self.tag])

    def milk_url(self, code: str) -> str:
        """The page of a container in it."""
        return f"{reverse('web:care_milk', args=[self.tag])}?{urlencode({'code': code})}"

    def do_url(self, verb: str, code: str = "", **preset: str) -> str:
        """Where something is noted of a container in it, or of the service's own places."""
        query = urlencode({**({"code": code} if code else {}), **preset})
        path = reverse("web:care_do", args=[self.tag, verb])
        return f"{path}?{query}" if query else path

    def check_url(self, code: str) -> str:
        """Where its label is checked before a feed."""
        return f"{reverse('web:check')}?{urlencode({'tag': self.tag, 'code': code})}"

    def name_of(self, found: Verdict) -> str:
        """The child it is for, with the full name where the family gave it; empty where nobody noted it."""
        child = child_of(self.board, found)
        return self.called(child) if child is not None else ""

    def called(self, child: str) -> str:
        """A child by its full name, where the family gave it."""
        return labels.full_names(self.home.preferences).get(child, child)

    @property
    def given(self) -> list[str]:
        """What was handed over and is not noted as arrived yet, though it is known where it was put."""
        return [one.found.container for one in self.found if one.given_to is not None]

    @property
    def all_url(self) -> str:
        """Where all that was handed over is noted as arrived in one go."""
        return self.do_url("all")

    @property
    def act(self) -> str:
        """An id for a form on a page of several families."""
        return new_act()

    def pressing(self) -> list[Deadline]:
        """What has to be seen to first: what is begun, ends soon or before closing, or has no time left or given."""
        closing = closing_at(self.service, now=self.board.now, zone=self.board.settings.zone) or 0
        rows = [(one, one.found.standing != "fine" or urgency(one.found)[0] == 0) for one in self.found]
        return [one for one, now in rows if now or (one.found.use_by is not None and one.found.use_by < closing)]

    @property
    def children(self) -> list[tuple[str, list[Milk]]]:
        """What is there by child, the most urgent first."""
        rows: dict[str, list[Milk]] = {}
        for one in self.found:
            rows.setdefault(self.name_of(one.found), []).append(self.milk(one))
        return list(rows.items())

    def milk(self, one: Deadline) -> Milk:
        """A container as the pages show it."""
        found = one.found
        line = milk_line(found, self.words, clock_wrong=self.board.clock_wrong)
        place = self._place(found)
        line = line._replace(url=self.milk_url(found.container), place=place, meant_for=None, best_by_text=None)
        begun = found.warmed is not None or found.fed_from is not None
        given = one.given_to is not None
        return Milk(line, self.name_of(found), one.by, handing.once_thawed(one, self.words), begun, given)

    def _place(self, found: Verdict) -> str | None:
        where = {self.service.place: _("refrigerator"), self.service.freezer: _("freezer")}
        return where.get(found.place or "")


def family_of(home: Home, *, now: int) -> Family | None:
    """The window that someone has on a household; None where they have none."""
    service = childcare.service(home.store, home.service)
    if service is None or not may(home.role, "serve"):
        return None
    seen = board(home.store, now=now)
    codes = childcare.in_window(home.store, service.name, now=now)
    found = deadlines(home.store, service, codes, now=now)
    awaited = childcare.awaited(home.store, service.name, now=now)
    words = words_for(seen.settings.zone, now, seen.units)
    return Family(home, tag_of(home.store), service, seen, words, found, awaited)


def families(request: Request) -> list[Family]:
    """Every family that the worker has a window on."""
    homes = people.homes_of(int(request.user.pk or 0))
    return [one for home in homes if (one := family_of(home, now=request.now)) is not None]


def namesakes(request: Request, family: Family, child: str | None) -> list[str]:
    """The other families that this worker serves who have a child of the same name there."""
    if child is None:
        return []
    others = [home for home in people.homes_of(int(request.user.pk or 0)) if home.store.key != family.home.store.key]
    return [
        home.name
        for home in others
        if may(home.role, "serve") and child in checking_codes.children_in_sight(home, now=request.now)
    ]


def the_family(request: Request) -> Family:
    """The family whose window the page is; 404 where there is none."""
    found = family_of(request.home, now=request.now)
    if found is None:
        raise Http404
    return found


class Desk(Sheet):
    """One container in the window, and a form that may have been sent; 404 for anything outside it."""

    def __init__(self, request: Request, code: str) -> None:
        self.family = the_family(request)
        there = {one.found.container: one for one in self.family.found}
        if code not in there and code not in self.family.awaited:
            raise Http404
        super().__init__(request, code)
        self.deadline: Deadline | None = there.get(code)

    @property
    def url(self) -> str:
        """The container's page."""
        return self.family.milk_url(self.code)

    def do_url(self, verb: str) -> str:
        """Where this is done with the container."""
        return self.family.do_url(verb, self.code)

    @property
    def back(self) -> str:
        """Where a form leads back to: to the family's milk, for what was fed or given back is there no more."""
        return self.family.url

    @property
    def child(self) -> str | None:
        """Nobody: whoever feeds says which child it is."""
        return None

    def shown(self) -> dict[str, Any]:
        """What every page of a container shows of it."""
        meant = child_of(self.board, self.one.verdict)
        return {
            "sheet": self, "family": self.family, "code": self.code,
            "namesake": self.family.called(meant) if meant is not None else "", "first_name": meant,
            "namesakes": namesakes(self.request, self.family, meant),
        }  # fmt: skip
