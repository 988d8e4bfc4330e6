"""What the pages of a power cut share."""

from __future__ import annotations

from typing import NamedTuple

from thawline.core.times import BadTimeError, zone_named
from thawline.faces.request import Request
from thawline.faces.words import Words, words_for
from thawline.services import power
from thawline.services.acts import BadWhenError, moment
from thawline.services.board import Board, board
from thawline.services.power import Cut


class Asked(NamedTuple):
    """What every page of a cut stands on."""

    board: Board
    words: Words
    every: list[Cut]
    cuts: list[Cut]

    @property
    def lasts(self) -> bool:
        """Whether the power is out somewhere."""
        return any(cut.back is None for cut in self.cuts)


def asked(request: Request) -> Asked:
    """The household's board and its cuts."""
    found = board(request.home.store, now=request.now)
    every = power.cuts(request.home.store, now=request.now)
    words = words_for(found.settings.zone, request.now, found.units)
    return Asked(found, words, every, power.current(every, request.now))


def typed(request: Request, name: str, zone: str) -> int:
    """The moment that a field of the form names; raises `BadWhenError` where it is none, or lies ahead."""
    try:
        found = moment(request.POST.get(name, ""), zone_named(zone))
    except BadTimeError as fault:
        raise BadWhenError("Write the day and the time, such as 2027-02-03 07:10.") from fault
    if found > request.now:
        raise BadWhenError("That time is still ahead. Choose now or a time before.")
    return found
