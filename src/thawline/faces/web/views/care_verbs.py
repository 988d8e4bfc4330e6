"""What a service's staff may note of milk in their window: for each verb its words, its fields, and its events."""

from __future__ import annotations

from typing import cast

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from thawline.core.places import FREEZERS
from thawline.faces.web.views.care_kit import Desk
from thawline.faces.web.views.milk_sheet import Choice, Sheet
from thawline.faces.web.views.milk_verbs import VERBS as AT_HOME
from thawline.faces.web.views.milk_verbs import Fields, Verb
from thawline.services import board, childcare, handling
from thawline.services.acts import Act
from thawline.services.childcare_rules import child_of

# A child that is not one of this family's: nothing of the kind is recorded here.
ANOTHER = "-"


def _desk(sheet: Sheet) -> Desk:
    return cast("Desk", sheet)


def _places(sheet: Sheet) -> tuple[Choice, ...]:
    desk = _desk(sheet)
    service = desk.family.service
    rows = [Choice(service.place, _("Into the refrigerator"))]
    if childcare.has_freezer(desk.request.home.store, service, now=desk.request.now):
        rows.append(Choice(service.freezer, _("Into the freezer")))
    return tuple(rows)


def _where(sheet: Sheet) -> Fields:
    choices = _places(sheet)
    frozen = sheet.one.verdict.form == "frozen" and len(choices) > 1
    value = choices[-1].value if frozen else choices[0].value
    return [sheet.field("choice", "to", _("Where is it now?"), choices=choices, value=value)]


def _to(sheet: Sheet) -> str:
    return sheet.choose("to", [one.value for one in _places(sheet)], _("Choose where it is."))


def _arrived(sheet: Sheet, act: Act) -> None:
    act.add("received", container=sheet.code, place=_to(sheet))


def _moved(sheet: Sheet, act: Act) -> None:
    to = _to(sheet)
    if to and to == sheet.one.verdict.place:
        sheet.wrong("to", _("It is there already."))
    act.add("moved", container=sheet.code, to=to)


def _who(sheet: Sheet) -> Fields:
    """Which child drinks is asked always: no label is right by itself."""
    if sheet.one.container.feed:
        return []
    desk = _desk(sheet)
    known = [child_of(desk.board, one.found) for one in desk.family.found]
    meant = child_of(desk.board, sheet.one.verdict)
    # Milk that is for all may be for any child at home; else only those are named whose milk is there.
    at_home = [child.name for child in desk.board.children if child.care == "home"]
    names = [name for name in sheet.children if name in known or (meant is None and name in at_home)]
    rows = (*(Choice(name, desk.family.called(name)) for name in names), Choice(ANOTHER, _("Another child")))
    return [sheet.field("choice", "child", _("Which child drinks?"), choices=rows, pills=True)]


def _drinker(sheet: Sheet) -> str:
    if sheet.one.container.feed:
        return ""
    if sheet.sent.get("child") == ANOTHER:
        sheet.wrong("child", _("Stop: this milk is only for the child named on it. Nothing was recorded."))
        return ""
    offered = [one.value for field in _who(sheet) for one in field.choices]
    return sheet.choose("child", offered, _("Choose which child drinks."))


def _began(sheet: Sheet, act: Act) -> None:
    handling.feed(act, sheet.one, child=_drinker(sheet), left_ml=None, began_only=True)


def _end(sheet: Sheet) -> Fields:
    hint = _("It held %(ml)s. Nothing left: write 0.") % {"ml": sheet.words.ml(sheet.one.verdict.ml)}
    took = [field for field in AT_HOME["leftover"].fields(sheet) if field.name == "took"]
    return [*_who(sheet), sheet.amount_field("left", _("How much is left?"), hint=hint), *took]


def _ended(sheet: Sheet, act: Act) -> None:
    child = _drinker(sheet)
    left = sheet.amount("left", empty=_("Write how much is left."))
    began = None
    if not sheet.one.container.feed:
        took = sheet.choose("took", map(str, handling.TOOK), _("Choose how long drinking took, at the most."))
        began = handling.began_before(act, took, zone=sheet.board.settings.zone) if not sheet.errors else None
    handling.feed(act, sheet.one, child=child, left_ml=left, began=began)


def _back(sheet: Sheet) -> Fields:
    ways = (Choice("cold", _("Cold, in a cooler with ice packs")), Choice("open", _("As it is, without ice packs")))
    return [sheet.field("choice", "how", _("How does it go home?"), choices=ways)]


def _returned(sheet: Sheet, act: Act) -> None:
    how = sheet.choose("how", ("cold", "open"), _("Choose how it goes home."))
    act.add("returned", container=sheet.code, place=_on_the_way(_desk(sheet), cold=how == "cold"))


def _on_the_way(desk: Desk, *, cold: bool) -> str:
    """Where it counts as lying until the family says where it put it: a cooler of theirs, else their warmest place."""
    theirs = [one for one in desk.board.places if one.name not in desk.family.service.site.places]
    coolers = [one for one in theirs if one.kind == "cooler"]
    if cold and coolers:
        return coolers[0].name
    warmest = board.warmest(desk.board._replace(places=tuple(one for one in theirs if one.kind not in FREEZERS)))
    return warmest.name if warmest is not None else desk.family.service.place


VERBS: dict[str, Verb] = {
    "arrived": Verb(gettext_lazy("It has arrived"), gettext_lazy("It is there now"), _where, _arrived, ("to",)),
    "to": Verb(gettext_lazy("Move it"), gettext_lazy("It is there now"), _where, _moved, ("to",)),
    "warm": AT_HOME["warm"],
    "ice": AT_HOME["ice"],
    "began": Verb(gettext_lazy("A feed begins"), gettext_lazy("Drinking begins"), _who, _began, ("child", "act")),
    "ended": Verb(gettext_lazy("A feed has ended"), gettext_lazy("Record"), _end, _ended, ("left",)),
    "count": AT_HOME["count"],
    "discard": AT_HOME["discard"],
    "back": Verb(gettext_lazy("Give it back"), gettext_lazy("It was given back"), _back, _returned, ("how",)),
}


def verbs(desk: Desk) -> list[str]:
    """What may be noted of this container now, the most usual first."""
    if desk.deadline is None:
        return ["arrived"]
    found = desk.one.verdict
    frozen, feeding = found.form == "frozen", desk.one.container.feed
    asked = {
        "arrived": not feeding and desk.deadline.given_to is not None,
        "warm": not feeding,
        "began": not frozen and not feeding,
        "ended": not frozen,
        "to": len(_places(desk)) > 1 and not feeding,
        "ice": found.form != "fresh",
        "back": not feeding,
        "discard": True,
        "count": not feeding,
    }
    return [verb for verb, sensible in asked.items() if sensible]
