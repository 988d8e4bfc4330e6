"""What each thing that happens to milk starts and ends on its clocks."""

from __future__ import annotations

from .book import ON_COLD, Anchor, Bands, Book
from .component import Component
from .places import FREEZERS, Condition
from .times import HOUR

# Where a stay's limit ends when the milk goes there in time.
_ENDS = {
    "fresh_room": ("cooler", "refrigerator", *FREEZERS),
    "fresh_cooler": ("refrigerator", *FREEZERS),
}


class Clock(Component):
    """A component to which things happen, in the order of their instants."""

    def enter(self, condition: Condition, *, moved: bool, vague: bool = False) -> None:
        """It comes to lie under other conditions: moved there, or they changed around it."""
        if not moved and (self.elsewhere or self._only_read(condition)):
            return
        at, kind = condition.at, condition.kind
        steady = not moved and self.steady(condition)
        self.accrue(at)
        old = self.kind
        if moved:
            self.elsewhere = False
            self.vague = vague
            # A look at the next place says nothing of what the milk went through in this one.
            self.unseen_here = False
        if old in FREEZERS and kind not in FREEZERS:
            self._leave_freezer(at, moved)
        elif old in FREEZERS and kind in FREEZERS and kind != old:
            self._end_stays((old,), at, moved)
        if old == "room" and kind in _ENDS["fresh_room"]:
            self._back_in_cold(at)
        if moved and self.warmed is not None and kind in _ENDS["fresh_room"]:
            self.banned("warmed_to_cold", at)
        if kind in FREEZERS and old not in FREEZERS:
            self._into_freezer(at)
        elif moved or kind != old:
            # To read a thermometer beside it moves no milk: a limit that runs there runs on.
            ending = tuple(situation for situation, kinds in _ENDS.items() if kind in kinds)
            self._end_stays(ending, at, moved)
        self._now_in(condition, old)
        self.settled(self.settle(at), steady)

    def _only_read(self, condition: Condition) -> bool:
        """Whether a thermometer says what it said before, since the last that happened to the milk: then that counts.

        Within a band no row begins or ends to hold; in one where it was settled all its rows have begun.
        """
        temp, bands = condition.temp_c, self.bands
        if temp is None or self.temp is None or condition.unseen or self.unseen_here:
            return False
        if condition.kind != self.kind or condition.guessed != self.guessed:
            return False
        band = self.rules.band(temp)
        if band != bands.now:
            reasons = bands.reasons.get(band)
            if reasons is None or condition.at < self.at:
                return False
            bands.now = band
            self.accrue(condition.at)
            self.temp = temp
            self._narrow()
            for book, why in zip(self.books, reasons, strict=True):
                self.stand(book, why, condition.at)
        self.temp = temp
        return True

    def _now_in(self, condition: Condition, old: str) -> None:
        at, kind = condition.at, condition.kind
        if kind != old:
            self.place_at = at
        if kind == "cooler" and self.cooler_at is None:
            self.cooler_at = at
        if kind in ("refrigerator", *FREEZERS):
            self.cooler_at = None
        if kind == "room" and old not in ("room", "") and self.chilled:
            self.out_at = at
            self.out_short = self.rules.house.short
        if kind != "room":
            self.chilled = True
        self.kind, self.temp, self.guessed = kind, condition.temp_c, condition.guessed
        self._seen_here(condition)
        self._narrow()

    def _seen_here(self, condition: Condition) -> None:
        if condition.unseen:
            self.unseen_here = True
            if self.unseen_at is None:
                self.unseen_at = condition.at
        elif self.unseen_here:
            self.look()

    def amount(self, ml: float) -> None:
        """Something happened to the filling, which holds so many mL now: a small one warms up sooner."""
        self.ml = ml
        self.bands = Bands(self.bands.now)
        self._narrow()

    def _narrow(self) -> None:
        if self.out_at is not None and self.kind == "room":
            hot = self.temp is not None and self.temp > self.rules.house.hot_room_c
            allowed = self.rules.house.short_excursion(self.ml, hot)
            early = self.bounds.warm_early.get((self.container, self.out_at))
            if early is None:
                self.out_short = min(self.out_short, allowed)
            else:
                self.out_short = early - self.out_at
                self.out_bound = min(self.out_short, self.out_bound if self.out_bound is not None else self.out_short)

    def look(self) -> None:
        """Somebody looked at this very container."""
        self.unseen_at = None
        self.unseen_here = False

    def _end_stays(self, situations: tuple[str, ...], at: int, moved: bool) -> None:
        gains = self.warmed is None and self.warm_thaw is None and self.fed is None
        for book in self.books:
            for limit in [x for x in book.running if x.row.stay and x.situation in situations and not x.stuck]:
                if limit.until < at:
                    limit.stuck = True
                    if moved and not limit.row.best:
                        self.late(limit, at)
                elif gains or limit.situation in FREEZERS:
                    book.end([limit], at)

    def _back_in_cold(self, at: int) -> None:
        """An excursion ends: too short alone and in sum it only adds up; else its limit stands."""
        if self.out_at is None:
            return
        spent = at - self.out_at
        total = self.out_sum + spent
        # Where it did not cool down in between, the warmest of the rooms decides.
        brief = total <= min(self.out_short, self.out_short if self.out_bound is None else self.out_bound)
        for book in self.books:
            opened = [limit for limit in book.running if limit.open]
            for limit in opened:
                limit.open = False
            if brief:
                book.drop(opened)
            elif not opened:
                # Where no row held (a hot room), coming back gains no more than from a cool one.
                for situation in [x for x in self.situations() if x in ON_COLD]:
                    self.run_shortest(book, situation, at)
        self.out_sum = total
        self.out_at = None

    # The freezer

    def _into_freezer(self, at: int) -> None:
        if self.warmed is not None or self.warm_thaw is not None:
            self.banned("freeze_warmed", at)
        if self.fed is not None:
            self.banned("freeze_leftover", at)
        if self.form == "fresh":
            self._freeze(at)
        else:
            self._refreeze(at)

    def _freeze(self, at: int) -> None:
        passed = [x for book in self.books for x in book.running if x.until < at and not x.row.best]
        if passed:
            self.late(min(passed, key=lambda limit: limit.until), at)
        elif self.warmed is None and self.fed is None:
            for book in self.books:
                # Going in counts as going into the cold: a stay at room or in a cooler ended there, in time.
                book.shadow = [limit.copy() for limit in book.running if not limit.row.stay]
                book.end(list(book.running), at)
        self.form = "frozen"
        # Where only the day is known it may have gone in at its end: not yet solid for sure.
        self.frozen_in = at + 25 * HOUR if self.vague else at
        self.first_frozen = self.first_frozen or Anchor(at, self.vague)
        self.solid = False
        self.known_frozen = at

    def _refreeze(self, at: int) -> None:
        left = self.left_freezer or 0
        house = self.rules.house
        brief = at - left <= house.short_excursion(self.ml, self.temp is not None and self.temp > house.hot_room_c)
        icy = self.last_ice is not None and self.last_ice >= left and at - self.last_ice <= house.ice
        if self.form != "thawing" or not (brief or icy) or self.warm_thaw is not None:
            # Frozen again, but judged by what it went through: the thawed limits go on.
            self.banned("refreeze", at)
            self.form = "frozen"
            self.frozen_in = self.known_frozen = at
            return
        self.form = "frozen"
        if not brief:
            self.banned("refreeze_partial", at)
        for book in self.books:
            if not brief and "refreeze_partial" in book.guideline.bans:
                continue
            book.drop([x for x in book.running if x.situation.startswith("thawed") and x.start >= left])
            if self.dual:
                assumed = [limit for limit in book.running if limit.assumed]
                book.shadow = [limit for limit in assumed if not limit.row.stay]
                book.drop(assumed)
        if self.dual:
            # Two visits too short to freeze do not add up to one that is not.
            self.frozen_in = at
        self.known_frozen = at
        self.thawed = None

    def _leave_freezer(self, at: int, moved: bool) -> None:
        self._end_stays(FREEZERS, at, moved)
        if self.form != "frozen":
            return
        self.form = "thawing"
        # Where power failed and nobody looked, the cold ended when its promise did.
        start = max(self.unseen_at, self.known_frozen) if self.unseen_at is not None else at
        self.left_freezer = min(at, start)
        early = self.bounds.thawed_early.get((self.container, self.left_freezer))
        self.thawed = Anchor(max(self.left_freezer, early or 0), True)
        self.solid = self.solid or self._solid_by() <= at
        self.dual = not self.solid
        for book in self.books:
            if self.dual:
                # Nobody knows that it ever froze: judged as if it had stayed in a refrigerator.
                book.assume()
                self._start(book, "fresh_refrigerator", "refrigerator", None, at)
            book.shadow = []

    def _solid_by(self) -> int:
        """When it was certainly frozen solid: the bound given, else a day after it went in."""
        usual = self.frozen_in + self.rules.house.solid
        return self.bounds.solid_late.get((self.container, self.frozen_in), usual)

    def ice(self, at: int) -> None:
        """Crystals were seen: it has not completely thawed, whatever was assumed."""
        self.accrue(at)
        self.look()
        if self.form in ("thawed", "fresh"):
            self.settle(at)
            return
        self.solid = True
        self.last_ice = at
        self.known_frozen = at
        if self.form != "thawing":
            self.settle(at)
            return
        if self.dual:
            self.dual = False
            for book in self.books:
                book.drop([limit for limit in book.running if limit.assumed])
        # A bound that lies ahead still holds: ice seen before it does not bring it forward.
        self.thawed = Anchor(max(at, self.thawed.at if self.thawed is not None else at), True)
        if self.out_at is not None:
            # With ice in it, it was as cold as it gets: the way to room temperature begins now.
            self.out_at = at
        for book in self.books:
            if self.kind != "room":
                # It came through its time in a room with ice in it: that room's clock never began.
                book.drop([limit for limit in book.running if limit.situation == "thawed_room"])
            self._restart(book, ("thawed", "left_cold"), at)
        self.settle(at)

    def no_ice(self, at: int, known: int) -> None:
        """No crystals left: thawed since the last moment it was known frozen (`known`, while in a freezer)."""
        self.accrue(at)
        self.look()
        if self.form == "frozen":
            self.form = "thawing"
            self.left_freezer = known
            self.thawed = Anchor(known, True)
            self._end_stays(FREEZERS, at, False)
            self.dual = not (self.solid or self._solid_by() <= known)
            for book in self.books:
                if self.dual:
                    book.assume()
                book.shadow = []
        if self.form == "thawing":
            self.form = "thawed"
            if self.thawed is not None and self.thawed.at > at:
                self._refuted(self.thawed.at)
            elif self.thawed is not None and self.last_ice == at:
                self.thawed = Anchor(at, False)
                for book in self.books:
                    self._restart(book, ("thawed",), at)
        self.settle(at)

    def _refuted(self, bound: int) -> None:
        """It was liquid before the bound given: counted from the last moment at which it was known frozen."""
        left = self.left_freezer or self.known_frozen
        self.thawed = Anchor(max(left, self.last_ice if self.last_ice is not None else left), True)
        for book in self.books:
            self._restart(book, ("thawed",), bound)

    def _restart(self, book: Book, starts: tuple[str, ...], at: int) -> None:
        for limit in book.running:
            if limit.row.starts in starts and limit.situation.startswith("thawed") and limit.start <= at:
                anchor = self._anchor(limit.row, book, at)
                if anchor is not None:
                    limit.start, limit.guessed = anchor.at, anchor.guessed
                    limit.until = limit.row.allows.after(limit.start, self.zone)

    # Warming, feeding, additions

    def warm(self, at: int, how: str) -> None:
        """Warming began."""
        self.accrue(at)
        if how in ("microwave", "stovetop"):
            self.banned(how, at)
        if self.warmed is not None:
            self.banned("rewarm", at)
            return
        self.warmed = at
        if self.form == "frozen":
            self._taken_out(at)
        if self.form == "thawing":
            self.warm_thaw = at
            self._on("thawed_warm_water", at)
        if self.warm_thaw is None or self.dual:
            self._on("warmed", at)
        if self.form == "thawed" or (self.form == "fresh" and self.chilled):
            self._brought_out("thawed_room" if self.form == "thawed" else "brought_to_room", at)

    def _brought_out(self, situation: str, at: int) -> None:
        """Warming brings milk to room temperature at once, wherever it stands."""
        for book in self.books:
            choice = self.rules.choose(book.guideline, situation, "room", None, self.milk)
            for row in (*choice.use, *choice.best):
                if row.starts == "left_cold":
                    self.run(book, row, situation, Anchor(at, False), choice.stands_in)

    def _taken_out(self, at: int) -> None:
        # Nobody warms or drinks milk inside a freezer: it has left, though no move was noted.
        if self.kind in FREEZERS:
            self.enter(Condition(at, "room", None), moved=True)
            self.elsewhere = True

    def away(self, at: int) -> None:
        """It was handed over. Nobody here knows how it is kept while away: taken at the least."""
        # To hand it over is not to look at it.
        self.unseen_here = self.elsewhere = False
        self.enter(Condition(at, "room", None, guessed=True), moved=False)
        self.elsewhere = True

    def _on(self, situation: str, at: int) -> None:
        for book in self.books:
            why = self._start(book, situation, self.kind, self.temp, at)
            if why:
                book.outside(at, why)
                book.for_good = True

    def feed_began(self, at: int, child: str, meant: str | None) -> None:
        """A child began to drink."""
        self.accrue(at)
        limit = self.limit()
        out = self.outside()
        if limit is not None and limit.until < at:
            self.breach(at, limit.row.id, f"Fed past its limit. {limit.row.says}", limit.row.source)
        elif out is not None and out.for_good and out.out_why == "temperature":
            name = f"{out.guideline.id}.outside"
            self.breach(at, name, f"Fed where {out.guideline.name} gives no time.", out.guideline.source)
        if meant is not None and meant != child:
            self.banned("other_child", at)
        if self.form == "frozen":
            self._taken_out(at)
        self.feed_open = self.fed is None
        if self.feed_open:
            self.fed = at
            self.feed_end = Anchor(at, True)
            self._on("leftover", at)

    def feed_ended(self, at: int) -> None:
        """The feed ended; only the first end counts."""
        self.accrue(at)
        if self.feed_open:
            self.feed_open = False
            for book in self.books:
                for limit in book.running:
                    if limit.row.starts == "feed_ended":
                        limit.start, limit.guessed = at, False
                        limit.until = limit.row.allows.after(at, self.zone)

    def add(self, at: int, what: str) -> None:
        """Something was added to the milk."""
        self.accrue(at)
        if what not in self.milk.added:
            self.milk = self.milk._replace(added=tuple(sorted((*self.milk.added, what))))
        self.settle(at)

    def receive(self, at: int) -> None:
        """A childcare service took it in."""
        self.accrue(at)
        self.received = at if self.received is None else self.received
        self.settle(at)
