"""What goes into a plan and what comes out: plain data. Times are hours since the plan's `now`, amounts mL."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

Form = Literal["fresh", "frozen", "thawing", "thawed"]
Does = Literal["chill", "freeze", "thaw", "pack", "discard", "measure", "look_for_ice"]
Stage = Literal["greedy", "refined"]


class Thaw(NamedTuple):
    """How frozen milk thaws in the refrigerator.

    `ready_h`: hours after leaving the freezer from which no ice is left for certain (late bound);
    `life_h`: hours after leaving the freezer until which it must be fed at the latest (strict: from leaving it);
    `margin_h`: how long before that the plan stops using it; `quick`: may also be thawed in water just before a feed.
    """

    ready_h: float
    life_h: float
    margin_h: float
    quick: bool = True


@dataclass(frozen=True, slots=True, kw_only=True)
class Lot:
    """A container, or milk that is expected to be expressed (`from_h` > 0, `coming` true).

    `until_h` is its deadline as it stands (frozen: until when it may leave the freezer); `margin_h` is kept before it.
    `freeze_by_h`: until when it may still go into a freezer, else None; `frozen_until_h`: the deadline then.
    `until_at`: an earlier deadline where a place's own rule is stricter, by the need's `where`.
    `children`: who may drink it; None for all. `group`: only lots of one group are compared by age.
    `chore_by_h`: until when it must have been put away (milk on the counter), None where it is put away.
    """

    name: str
    ml: float
    form: Form
    dated_h: float
    until_h: float
    margin_h: float
    from_h: float = 0.0
    coming: bool = False
    best_h: float | None = None
    freeze_by_h: float | None = None
    frozen_until_h: float | None = None
    thaw: Thaw | None = None
    until_at: Mapping[str, float] = field(default_factory=dict)
    children: frozenset[str] | None = None
    group: str = ""
    chore_by_h: float | None = None
    held: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Need:
    """What a child drinks by bottle in one stretch (a day at home, a day apart): a total with its spread.

    `short_cost`: how many mL thrown away one mL short is worth. `leave_h`: when its milk leaves home; None at home.
    """

    name: str
    child: str
    where: str
    mean_ml: float
    sd_ml: float
    short_cost: float
    leave_h: float | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Feed:
    """One expected feed: when, of which need, and its share of that need's total (shares of a need add up to 1)."""

    at_h: float
    need: str
    share: float


class Slot(NamedTuple):
    """A moment at which somebody can do chores; at night only if nothing else will do."""

    at_h: float
    night: bool = False


@dataclass(frozen=True, slots=True, kw_only=True)
class Problem:
    """All that a plan depends on; the same problem gives the same plan.

    `order_slack_h`: with `oldest_first`, a frozen lot may be opened before one of its group that is older by at most
    this. `rotation`: stretches (from, to) in which feeds come from the freezer first and fresh milk is frozen.
    `night_cost_ml`, `bag_cost_ml`: what a chore at night and an opened bag weigh against mL thrown away: small.
    """

    horizon_h: float
    lots: tuple[Lot, ...]
    needs: tuple[Need, ...]
    feeds: tuple[Feed, ...]
    slots: tuple[Slot, ...]
    oldest_first: bool = True
    order_slack_h: float = 168.0
    rotation: tuple[tuple[float, float], ...] = ()
    freeze_over: bool = True


class Reason(NamedTuple):
    """Why, as a code that a face puts into words, with what it names (lots, hours, mL)."""

    code: str
    args: tuple[tuple[str, str | float], ...] = ()


class Part(NamedTuple):
    """Milk of one lot for one feed."""

    lot: str
    ml: float
    reason: Reason


class Serving(NamedTuple):
    """What one feed is planned to be given: `ml` wanted (the quantile's share), `parts` what gives it."""

    at_h: float
    need: str
    ml: float
    parts: tuple[Part, ...]

    @property
    def short_ml(self) -> float:
        """How much is not there, in mL."""
        return max(0.0, self.ml - sum(part.ml for part in self.parts))


class Chore(NamedTuple):
    """Something to do with a lot: at which slot it is planned, by when at the latest, and why."""

    does: Does
    lot: str
    ml: float
    at_h: float
    by_h: float
    night: bool
    reason: Reason
    need: str = ""


class Short(NamedTuple):
    """A need that can't be met whole: from when, how much, and what would mend it."""

    need: str
    at_h: float
    ml: float
    mends: tuple[Reason, ...]


class Plan(NamedTuple):
    """A plan with its proof: no other plan throws away more than `better_ml` less without being shorter.

    `thrown_ml`: what it leaves to be thrown away within the horizon; `planned_ml` by need: the quantile planned for.
    `proven`: whether the bound was computed (else `better_ml` is `thrown_ml` itself).
    """

    servings: tuple[Serving, ...]
    chores: tuple[Chore, ...]
    short: tuple[Short, ...]
    thrown: tuple[tuple[str, float], ...]
    planned_ml: Mapping[str, float]
    better_ml: float
    proven: bool
    stage: Stage
    opened: int
    night_chores: int

    @property
    def thrown_ml(self) -> float:
        """All that it leaves to be thrown away, in mL."""
        return sum(ml for _lot, ml in self.thrown)

    @property
    def short_ml(self) -> float:
        """All that is missing, in mL."""
        return sum(one.ml for one in self.short)
