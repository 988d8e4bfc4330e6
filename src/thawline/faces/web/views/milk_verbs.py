"""What may be noted of a container: for each verb its words, its fields, and the events it writes."""

from __future__ import annotations

from collections.abc import Callable
from typing import NamedTuple

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from thawline.faces.tell import ADDED, HELD_WHY, HOW
from thawline.faces.web.views.milk_sheet import Choice, Field, Sheet
from thawline.faces.words import KINDS, STEPS
from thawline.services import handling
from thawline.services.acts import Act, BadWhenError, before

Fields = list[Field]

WHY = {
    "leaked": gettext_lazy("It leaked"),
    "spilled": gettext_lazy("It spilled"),
    "past its limit": gettext_lazy("Past its limit"),
    "tasted or smelled off": gettext_lazy("Tasted or smelled off"),
    "left over": gettext_lazy("Left over from a feed"),
    "not needed": gettext_lazy("Not needed"),
    "other": gettext_lazy("Another reason"),
}


class Verb(NamedTuple):
    """Something that can be done: title, button, fields, events; `needs` are the fields without which it asks first."""

    title: str | Promise
    button: str | Promise
    fields: Callable[[Sheet], Fields]
    write: Callable[[Sheet, Act], None]
    needs: tuple[str, ...] = ()


def then(sheet: Sheet, place: str) -> str:
    """What taking it to a place would give, where that is known."""
    option = handling.option_for(sheet.one.verdict, place)
    if option is None or option.then_use_by is None:
        return ""
    words = sheet.words
    told = _("by %(by)s: then use by %(then)s") % {
        "by": words.until(option.not_after), "then": words.until(option.then_use_by)}  # fmt: skip
    if option.then_best_by is not None and option.then_best_by != option.then_use_by:
        told += _(", best by %(best)s") % {"best": words.until(option.then_best_by)}
    return f"{STEPS[option.do]} {told}"


def _places(sheet: Sheet, *, anywhere: bool = False) -> tuple[Choice, ...]:
    places = sheet.board.places if anywhere else handling.elsewhere(sheet.board, sheet.one)
    says = [[str(KINDS[place.kind]), then(sheet, place.name)] for place in places]
    return tuple(
        Choice(place.name, place.name, ". ".join(filter(None, said))) for place, said in zip(places, says, strict=True)
    )


def _place(sheet: Sheet, name: str) -> str:
    allowed = [place.name for place in sheet.board.places]
    return sheet.choose(name, allowed, _("Choose where it goes."))


def _to(sheet: Sheet) -> Fields:
    return [sheet.field("choice", "to", _("Where to?"), choices=_places(sheet))]


def _moved(sheet: Sheet, act: Act) -> None:
    place = _place(sheet, "to")
    if place and place == sheet.one.verdict.place:
        sheet.wrong("to", _("It is there already."))
    act.add("moved", container=sheet.code, to=place)


def _looked(sheet: Sheet) -> Fields:
    answers = (Choice("yes", _("Ice still there")), Choice("no", _("No ice left")))
    return [sheet.field("choice", "ice", _("What did you see?"), choices=answers, pills=True)]


def _seen(sheet: Sheet, act: Act) -> None:
    ice = sheet.choose("ice", ("yes", "no"), _("Choose what you saw."))
    act.add("thaw_seen", container=sheet.code, ice=ice == "yes")


def _ways(sheet: Sheet) -> Fields:
    ways = tuple(Choice(how, str(HOW[how])) for how in handling.WARM_HOW)
    return [sheet.field("choice", "how", _("How?"), choices=ways, value="warm_water")]


def _warmed(sheet: Sheet, act: Act) -> None:
    act.add("warmed", container=sheet.code, how=sheet.choose("how", handling.WARM_HOW, _("Choose how.")))


def _child(sheet: Sheet) -> Fields:
    if sheet.one.container.feed or (len(sheet.children) == 1 and sheet.child is not None):
        return []
    them = tuple(Choice(name, name) for name in sheet.children)
    return [sheet.field("choice", "child", _("Who drinks?"), choices=them, value=sheet.child or "", pills=True)]


def _left(sheet: Sheet) -> Field:
    hint = _("It holds %(ml)s.") % {"ml": sheet.words.ml(sheet.one.verdict.ml)}
    return sheet.amount_field("left", _("How much is left?"), hint=hint)


def _feed(sheet: Sheet) -> Fields:
    ways = [Choice("gone", _("Fed, all gone")), Choice("left", _("Ended, some is left"))]
    if not sheet.one.container.feed:
        ways.insert(0, Choice("began", _("Drinking begins")))
    how = sheet.field("choice", "how", _("How far is it?"), choices=tuple(ways), value=ways[0].value)
    took = [
        field._replace(label=_("If some is left, how long did drinking take, at the most?")) for field in _took(sheet)
    ]
    return [*_child(sheet), how, _left(sheet)._replace(label=_("If some is left, how much?")), *took]


def _took(sheet: Sheet) -> Fields:
    """How long a feed took whose beginning was not noted: some guidelines count the rest from there."""
    if sheet.one.container.feed:
        return []
    spans = tuple(Choice(str(minutes), _("%(n)d min") % {"n": minutes}) for minutes in handling.TOOK)
    hint = _("What is left counts from when drinking began, or ended, as the guideline says.")
    return [
        sheet.field(
            "choice", "took", _("How long did drinking take, at the most?"), choices=spans, hint=hint, pills=True
        )
    ]


def _began(sheet: Sheet, act: Act) -> str | None:
    """When drinking began, where that was not noted: as long before its end as the form says."""
    if sheet.one.container.feed:
        return None
    took = sheet.choose("took", map(str, handling.TOOK), _("Choose how long drinking took, at the most."))
    return None if "took" in sheet.errors or not act.at else before(act.at, int(took), zone=sheet.board.settings.zone)


def _drinker(sheet: Sheet) -> str:
    if sheet.one.container.feed:
        return ""
    if not sheet.children:
        sheet.wrong("child", _("Add the child under More first."))
    return sheet.choose("child", sheet.children or [""], _("Choose who drinks."), default=sheet.child)


def _fed(sheet: Sheet, act: Act) -> None:
    how = sheet.choose("how", ("began", "gone", "left"), _("Choose how far it is."))
    child = _drinker(sheet)
    if how != "left" and sheet.sent.get("left", "").strip(" 0.,"):
        sheet.wrong("how", _("You wrote that some is left. Choose “Ended, some is left”, or empty that field."))
    left = sheet.amount("left", empty=_("Write how much is left.")) if how == "left" else 0.0
    began = _began(sheet, act) if how == "left" else None
    handling.feed(act, sheet.one, child=child, left_ml=left, began_only=how == "began", began=began)


def _leftover(sheet: Sheet) -> Fields:
    return [*_child(sheet), _left(sheet), *_took(sheet)]


def _ended(sheet: Sheet, act: Act) -> None:
    child = _drinker(sheet)
    left = sheet.amount("left", empty=_("Write how much is left."))
    handling.feed(act, sheet.one, child=child, left_ml=left, began=_began(sheet, act))


def _count(sheet: Sheet) -> Fields:
    hint = _("Noted so far: %(ml)s.") % {"ml": sheet.words.ml(sheet.one.verdict.ml)}
    return [sheet.amount_field("ml", _("How much is really in it?"), hint=hint)]


def _counted(sheet: Sheet, act: Act) -> None:
    act.add("counted", container=sheet.code, ml=sheet.amount("ml", empty=_("Write how much is in it.")))


def _hold(sheet: Sheet) -> Fields:
    reasons = tuple(Choice(why, str(HELD_WHY[why])) for why in handling.HOLD_WHY)
    hint = _("The day only reminds: the milk stays held back until you release it.")
    return [
        sheet.field("choice", "why", _("Why?"), choices=reasons),
        sheet.field("text", "until_on", _("Look at it again on (if you know)"), kind="date", hint=hint),
        sheet.field("text", "until_at", _("At what time (if you know)"), kind="time"),
    ]


def _held(sheet: Sheet, act: Act) -> None:
    why = sheet.choose("why", handling.HOLD_WHY, _("Choose why."))
    on, at = sheet.text("until_on", most=10), sheet.text("until_at", most=8)
    try:
        handling.hold(act, sheet.code, why=why, on=on, at=at, zone=sheet.board.settings.zone)
    except BadWhenError as fault:
        sheet.wrong("until_on", str(fault))


def _nothing(_sheet: Sheet) -> Fields:
    return []


def _released(sheet: Sheet, act: Act) -> None:
    act.add("released", container=sheet.code)


def _discard(sheet: Sheet) -> Fields:
    reasons = tuple(Choice(why, str(WHY[why])) for why in handling.DISCARD_WHY)
    standing = sheet.one.verdict.standing
    usual = "past its limit" if standing == "past" else "left over" if sheet.one.verdict.fed_from is not None else ""
    hint = _("Leave it empty if it was all of it.")
    return [
        sheet.field("choice", "why", _("Why? (may stay open)"), choices=reasons, value=usual),
        sheet.amount_field("ml", _("How much?"), hint=hint),
    ]


def _discarded(sheet: Sheet, act: Act) -> None:
    act.add("discarded", container=sheet.code, ml=sheet.amount("ml"), why=sheet.text("why") or None)


def _add(sheet: Sheet) -> Fields:
    them = tuple(Choice(what, str(ADDED[what])) for what in handling.ADDED_WHAT)
    return [sheet.field("choice", "what", _("What was added?"), choices=them)]


def _added(sheet: Sheet, act: Act) -> None:
    act.add("added", container=sheet.code, what=sheet.choose("what", handling.ADDED_WHAT, _("Choose what.")))


def _measure(sheet: Sheet) -> Fields:
    unit = "°F" if sheet.words.temp == "F" else "°C"
    label = _("Temperature of the milk, %(unit)s") % {"unit": unit}
    return [sheet.field("text", "temp", label)]


def _measured(sheet: Sheet, act: Act) -> None:
    act.add("measured", container=sheet.code, temp_c=sheet.temperature("temp"))


def _hand(sheet: Sheet) -> Fields:
    stays = (Choice("", _("It has left this household")), *_places(sheet, anywhere=True))
    return [
        sheet.field("text", "to", _("To whom?"), hint=_("Such as childcare, hospital, milk bank.")),
        sheet.field("choice", "place", _("Where is it now?"), choices=stays),
    ]


def _handed(sheet: Sheet, act: Act) -> None:
    to = sheet.text("to")
    if not to:
        sheet.wrong("to", _("Write to whom."))
    place = _place(sheet, "place") if sheet.sent.get("place") else None
    handling.hand_over(act, sheet.code, to=to, place=place)


def _back(sheet: Sheet) -> Fields:
    return [sheet.field("choice", "place", _("Where is it now?"), choices=_places(sheet, anywhere=True))]


def _came(kind: str) -> Callable[[Sheet, Act], None]:
    def write(sheet: Sheet, act: Act) -> None:
        act.add(kind, container=sheet.code, place=_place(sheet, "place"))

    return write


VERBS: dict[str, Verb] = {
    "to": Verb(gettext_lazy("Move it"), gettext_lazy("It is there now"), _to, _moved, ("to",)),
    "warm": Verb(gettext_lazy("Warm it"), gettext_lazy("Warming began"), _ways, _warmed, ("how",)),
    "feed": Verb(gettext_lazy("Feed it"), gettext_lazy("Record"), _feed, _fed, ("how",)),
    "leftover": Verb(gettext_lazy("Some is left after a feed"), gettext_lazy("Record"), _leftover, _ended, ("left",)),
    "ice": Verb(gettext_lazy("Look for ice"), gettext_lazy("Record"), _looked, _seen, ("ice",)),
    "count": Verb(gettext_lazy("Correct the amount"), gettext_lazy("Record"), _count, _counted, ("ml",)),
    "measure": Verb(gettext_lazy("Measure the milk"), gettext_lazy("Record"), _measure, _measured, ("temp",)),
    "hold": Verb(gettext_lazy("Hold it back"), gettext_lazy("Hold it back"), _hold, _held, ("why",)),
    "release": Verb(gettext_lazy("Release it"), gettext_lazy("Release it"), _nothing, _released),
    "add": Verb(gettext_lazy("Something was added"), gettext_lazy("Record"), _add, _added, ("what",)),
    "hand": Verb(gettext_lazy("Hand it over"), gettext_lazy("Handed over"), _hand, _handed, ("to",)),
    "back": Verb(gettext_lazy("It came back"), gettext_lazy("It is back"), _back, _came("returned"), ("place",)),
    "receive": Verb(
        gettext_lazy("Taken in by childcare"), gettext_lazy("Record"), _back, _came("received"), ("place",)
    ),
    "discard": Verb(gettext_lazy("Throw it away"), gettext_lazy("Thrown away"), _discard, _discarded),
}
POUR = gettext_lazy("Pour or combine")


def title(verb: str) -> str:
    """What the page of a verb is called."""
    return str(POUR) if verb == "pour" else str(VERBS[verb].title)
