"""What the forecast answers a family, beside what comes true: the milk of 30 days, and the day the stock runs out."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from thawline.engines.forecast import intake, paths, yields
from thawline.engines.forecast.course import Course, Flow, Held, Paths, Rules
from thawline.engines.forecast.kinds import Child, DayLog, Session

from .family import Family, Kind, family
from .figures import figures
from .judge import inside, place
from .stash import Stocked, gaps_h, runs_out_d, stocked

MONTH = 30
PATHS = 600
# Of expressing itself no drift is forecast by its learning; the course takes it, as the services do.
SUPPLY_DRIFT = 0.03


class Month(NamedTuple):
    """A month's milk: what the band said and what came, in mL; `logs`: complete days told."""

    within: bool
    low: float
    likely: float
    high: float
    came: float
    logs: int
    late: bool


class RunOut(NamedTuple):
    """A stock's end: its place in the forecast, the days shown (None: not within those looked at), and what came.

    `shown`: whether the days as they are shown, both ends counted, hold what came; wider than 80 % by their whole days
    and by what is not seen. `never`: the forecast's share of paths that do not run out.
    """

    place: float
    within: bool
    shown: bool
    early: int | None
    late: int | None
    came: int | None
    never: float
    logs: int
    supply: bool


def month(kind: Kind, seed: int, number: int) -> Month:
    """A family's next 30 days; the same seed and number give the same family."""
    one = family(kind, np.random.default_rng([seed, number, 1]), days=MONTH)
    band = _intake(one, MONTH).total(0, MONTH)
    came = float(one.ahead_ml.sum())
    return Month(band.low <= came <= band.high, *band, came, len(one.told), one.late)


def run_out(kind: Kind, seed: int, number: int, *, count: int = PATHS) -> RunOut:
    """A family's stock: the forecast and the day that comes true."""
    one = stocked(kind, np.random.default_rng([seed, number, 2]))
    seen = paths.run(course(one), paths=count, rng=np.random.default_rng([seed, number, 3]))
    came, days = runs_out_d(one), figures()["stock"]["days"]
    at = place(seen.run_out_d, days if came is None else came, np.random.default_rng([seed, number, 4]).random())
    return RunOut(
        place=at, within=inside(at), shown=_shown(seen, days if came is None else came), early=seen.lasts.early,
        late=seen.lasts.late, came=came, never=seen.lasts.never, logs=len(one.family.told), supply=bool(one.hours),
    )  # fmt: skip


def _shown(seen: Paths, came: int) -> bool:
    """Whether the days shown hold it; an end that is not within the days looked at is the last number, `days`."""
    early, late = (seen.days if end is None else end for end in (seen.lasts.early, seen.lasts.late))
    return early <= came <= late


def _intake(one: Family, days: int) -> intake.Intake:
    child = Child(
        age_d=one.age_d,
        sex=("boy" if one.boy else "girl") if one.sex_told else None,
        weights=tuple((weight.age_d, weight.kg) for weight in one.weights),
    )
    logs = [DayLog(age_d, ml) for age_d, ml in one.told]
    return intake.forecast(child, logs, ages_d=[one.age_d + day for day in range(days)])


def course(one: Stocked) -> Course:
    """What is known of a family's stock, as the forecast takes it."""
    row, days = figures()["stock"], figures()["stock"]["days"]
    need = _intake(one.family, days)
    return Course(
        need=Flow(mean_ml=need.likely_ml, between=need.between, within=need.within),
        supply=_supply(one, float(need.likely_ml[0]), days),
        held=tuple(Held(bag.ml, "frozen", bag.last_d) for bag in one.bags),
        rules=Rules(
            fresh_d=row["fresh_d"],
            freezer_d=row["freezer_d"],
            thawed_d=row["thawed_d"],
            bag_ml=row["bags_ml"][0],
            freeze_after_d=row["freeze_after_d"],
        ),
    )


def _supply(one: Stocked, day_ml: float, days: int) -> Flow:
    if not one.hours:
        return Flow(mean_ml=np.zeros(days))
    learned = yields.learn([Session(said.hour, said.ml, said.gap_h) for said in one.noted], day_ml=day_ml)
    rhythm = list(zip(one.hours, map(float, gaps_h(np.array(one.hours))), strict=True))
    return Flow(
        mean_ml=np.full(days, learned.day(rhythm).likely),
        between=learned.between,
        within=learned.within_of(len(rhythm)),
        drift=SUPPLY_DRIFT,
    )
