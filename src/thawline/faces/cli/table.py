"""The household's board for a terminal 60 columns wide: most urgent first, time left, and why."""

from __future__ import annotations

import textwrap
import unicodedata

from thawline.core.replay import Replay
from thawline.core.times import DAY, HOUR, MINUTE, local, zone_named
from thawline.core.verdict import Verdict

WIDTH = 60
ML_PER_FL_OZ = 29.5735295625
_MARKS = {
    "breached": "!!",
    "past": "!!",
    "outside": "!!",
    "held": "||",
    "soon": "> ",
    "fine": "  ",
    "gone": "--",
}
_WORDS = {
    "breached": "against the guideline",
    "past": "past its limit,",
    "outside": "no time given: act now,",
    "held": "held back,",
    "soon": "soon:",
    "fine": "within its limits",
    "gone": "gone",
}
CAUTION = (
    "For healthy babies at home. A preterm, ill or hospital baby "
    "follows the care team; childcare follows its local rules. "
    "In doubt, ask a licensed professional."
)


_DO = {"refrigerate": "refrigerate", "freeze": "freeze", "cooler": "into the cooler", "warm": "warm", "feed": "feed"}
_INSTEAD = {
    "breached": "do not feed it; in doubt, ask",
    "past": "do not feed it: discard it",
    "held": "not to be fed until released",
}


def in_words(span: int) -> str:
    """A time left or passed, in words; `span` in microseconds. Rounded down: never more than there is."""
    span = abs(span)
    minutes = span // MINUTE
    if minutes < 60:
        return f"{minutes} min"
    if span < 6 * HOUR:
        return f"{span // HOUR} h {minutes % 60:02d} min"
    if span < 2 * DAY:
        return f"{span // HOUR} h"
    if span < 60 * DAY:
        return f"{span // DAY} days"
    return f"{span // (30 * DAY)} months"


def _clock(at: int, replay: Replay) -> str:
    zone = zone_named(replay.settings.zone)
    when, today = local(at, zone), local(replay.now, zone)
    if when.date() == today.date():
        return when.strftime("today %H:%M")
    if abs(at - replay.now) < 7 * DAY:
        return when.strftime("%a %d %b %H:%M")
    return when.strftime("%d %b %Y")


def _until(one: Verdict, replay: Replay) -> str:
    if one.use_by is None:
        return "ask the care team"
    if one.standing == "breached":
        return ""
    left = one.use_by - replay.now
    clock = _clock(one.use_by, replay)
    if one.standing == "outside":
        return f"since {clock}"
    if one.standing == "held":
        return f"if released, use by {clock}"
    if left < 0:
        return f"{in_words(left)} ago, {clock}"
    return f"until {clock}, {'about ' if one.estimated else ''}{in_words(left)}"


def _hand(one: Verdict, replay: Replay) -> str:
    """What the hand may do now, where it is called for."""
    if one.standing in _INSTEAD:
        return _INSTEAD[one.standing]
    if one.form == "thawing" and one.estimated and one.standing == "fine":
        return "look for ice and note it: that settles the time"
    if one.standing not in ("soon", "outside"):
        return ""
    acts = [(_DO[option.do], option.not_after) for option in one.options if option.do in _DO]
    if not acts:
        return "ask before you feed it" if one.standing == "outside" else ""
    last = min(at for _, at in acts)
    return f"{', '.join(act for act, _ in acts)}: by {_clock(last, replay)}"


def _entry(one: Verdict, replay: Replay) -> list[str]:
    head = f"{_MARKS[one.standing]} {one.container}  {one.ml:g} mL  {one.form}"
    head += ", warmed" if one.warmed is not None else ""
    head += ", fed from" if one.fed_from is not None else ""
    head += f"  {one.place}" if one.place else ""
    lines = [_short(head), _short(f"   {_WORDS[one.standing]} {_until(one, replay)}".rstrip())]
    if one.best_by is not None and one.use_by is not None and one.best_by < one.use_by:
        lines.append(_short(f"   best by {_clock(one.best_by, replay)}"))
    hand = _hand(one, replay)
    lines += wrap(hand, "   now: ", "        ") if hand else []
    why = one.breaches[0].says if one.breaches else (one.why[0].says if one.why else "")
    return lines + (wrap(why, "   why: ", "        ") if why else [])


def plain(text: str) -> str:
    """The text without anything that could steer a terminal."""
    return "".join(letter if letter.isprintable() else " " if letter.isspace() else "?" for letter in text)


def _columns(text: str) -> int:
    return len(text) + sum(unicodedata.east_asian_width(letter) in "WF" for letter in text)


def _short(text: str) -> str:
    text = plain(text)
    if _columns(text) <= WIDTH:
        return text
    while _columns(text) >= WIDTH:
        text = text[:-1]
    return text + "…"


def wrap(text: str, first: str = "", rest: str = "") -> list[str]:
    """The text in lines that fit the board."""
    text = plain(text)
    # Letters that take two columns: half as many fit.
    width = WIDTH if _columns(text) == len(text) else WIDTH // 2
    return textwrap.wrap(text, width, initial_indent=first, subsequent_indent=rest)


def board(replay: Replay) -> str:
    """The board as text."""
    zone = zone_named(replay.settings.zone)
    lines = [
        _short(local(replay.now, zone).strftime("%a %d %b %Y, %H:%M") + f"  ({replay.settings.zone})"),
        _short("by " + " + ".join(one.name for one in (replay.guideline, *replay.also))),
        "",
    ]
    for one in replay.verdicts:
        lines += [*_entry(one, replay), ""]
    if not replay.verdicts:
        lines += ["Nothing is there.", ""]
    total = replay.fold.booked().still_there
    lines.append(f"In all: {total:g} mL ({total / ML_PER_FL_OZ:.1f} fl oz)")
    told = {entry.id: entry.event for entry in replay.ledger.entries}
    for refusal in replay.fold.refused:
        event = told.get(refusal.event)
        name = f"{event.__struct_config__.tag} at {event.at}" if event is not None else refusal.event
        text = f"not taken in: {name}: {refusal.says}"
        lines += wrap(text, "", "  ")
    if replay.ledger.ahead:
        lines.append(f"Events after this time: {len(replay.ledger.ahead)}")
    lines += ["", *textwrap.wrap(CAUTION, WIDTH)]
    return "\n".join(lines)
