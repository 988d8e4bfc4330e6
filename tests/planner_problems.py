"""Random and small planner problems, the same for the same seed; all amounts are invented."""

from __future__ import annotations

import random

from thawline.engines.planner.kinds import Feed, Lot, Need, Problem, Slot, Thaw

THAW = Thaw(ready_h=12.0, life_h=24.0, margin_h=0.5)


def fresh(name: str = "fresh", ml: float = 100.0, **more: object) -> Lot:
    """Fresh milk in the refrigerator, four days from now."""
    given = {"form": "fresh", "dated_h": -1.0, "until_h": 96.0, "margin_h": 6.0, "freeze_by_h": 96.0} | more
    return Lot(name=name, ml=ml, **given)  # type: ignore[arg-type]


def frozen(name: str = "bag", ml: float = 100.0, **more: object) -> Lot:
    """A bag in the freezer, far from its deadline."""
    given = {"form": "frozen", "dated_h": -500.0, "until_h": 4000.0, "margin_h": 6.0, "thaw": THAW} | more
    return Lot(name=name, ml=ml, **given)  # type: ignore[arg-type]


def thawed(name: str = "thawed", ml: float = 100.0, **more: object) -> Lot:
    """Thawed milk in the refrigerator."""
    given = {"form": "thawed", "dated_h": -300.0, "until_h": 20.0, "margin_h": 0.5} | more
    return Lot(name=name, ml=ml, **given)  # type: ignore[arg-type]


def need(name: str = "day", ml: float = 100.0, **more: object) -> Need:
    """What a child drinks at home, without spread."""
    given = {"child": "Kim", "where": "home", "mean_ml": ml, "sd_ml": 0.0, "short_cost": 9.3} | more
    return Need(name=name, **given)  # type: ignore[arg-type]


def problem(*lots: Lot, at: tuple[float, ...] = (10.0,), ml: float = 100.0, **more: object) -> Problem:
    """One need of `ml` in all, in equal parts at the hours `at`; slots at 8 and 20 o'clock, now being 8."""
    needs = more.pop("needs", (need(ml=ml),))
    feeds = tuple(Feed(at_h=hour, need=needs[0].name, share=1 / len(at)) for hour in at)  # type: ignore[index]
    given = {"horizon_h": 72.0, "feeds": feeds, "slots": tuple(Slot(12.0 * i) for i in range(6))} | more
    return Problem(lots=lots, needs=needs, **given)  # type: ignore[arg-type]


def small(seed: int, *, unit: float = 10.0) -> Problem:
    """A small problem in whole units of mL, with every rule that a search over all choices can follow."""
    rng = random.Random(seed)
    lots: list[Lot] = []
    for i in range(rng.randint(0, 4)):
        end = rng.choice([8.0, 20.0, 30.0, 44.0, 90.0])
        form = rng.choice(["fresh", "fresh", "thawed", "thawing"])
        lots.append(
            Lot(
                name=f"cold{i}", ml=unit * rng.randint(0, 6), form=form, dated_h=-rng.uniform(0, 60),  # type: ignore[arg-type]
                until_h=end, margin_h=rng.choice([0.5, 6.0]), from_h=rng.choice([0.0, 0.0, 5.0, 14.0]),
                freeze_by_h=rng.choice([None, end]) if form == "fresh" else None,
                children=rng.choice([None, None, frozenset({"Kim"}), frozenset({"Noa"})]),
                until_at=rng.choice([{}, {}, {"care": end - 4}]), held=rng.random() < 0.1,
            )
        )  # fmt: skip
    for i in range(rng.randint(0, 3)):
        lots.append(  # noqa: PERF401 - reads better beside the other lots
            Lot(
                name=f"bag{i}", ml=unit * rng.randint(1, 6), form="frozen",
                dated_h=-rng.choice([100.0, 200.0, 300.0, 400.0]),
                until_h=rng.choice([10.0, 30.0, 500.0, 900.0]), margin_h=6.0,
                thaw=Thaw(rng.choice([8.0, 12.0]), 24.0, 0.5, rng.random() < 0.7),
                children=rng.choice([None, None, frozenset({"Kim"})]), group=rng.choice(["", "", "x"]),
            )
        )  # fmt: skip
    needs, feeds = [], []
    for name in ("a", "b")[: rng.randint(1, 2)]:
        count = rng.randint(1, 3)
        start = rng.uniform(0, 30)
        parts = [rng.randint(1, 4) for _ in range(count)]
        leave = rng.choice([None, None, start - 0.5])
        needs.append(
            need(name, unit * sum(parts), child=rng.choice(["Kim", "Noa"]), where=rng.choice(["home", "care"]),
                 leave_h=leave, short_cost=rng.choice([1.7, 9.3, 3.7]))
        )  # fmt: skip
        feeds += [Feed(at_h=start + 4 * k, need=name, share=part / sum(parts)) for k, part in enumerate(parts)]
    slots = tuple(
        Slot(at, night) for at, night in ((0.0, False), (6.0, False), (15.0, True), (24.0, False)) if rng.random() < 0.7
    )
    return Problem(
        horizon_h=48.0, lots=tuple(lots), needs=tuple(needs), feeds=tuple(feeds), slots=slots,
        oldest_first=rng.random() < 0.8, order_slack_h=rng.choice([0.0, 100.0, 168.0]), freeze_over=rng.random() < 0.7,
    )  # fmt: skip


def household(seed: int, *, days: int = 3, bags: int = 12, share_fresh: float = 0.8, spread: float = 0.15) -> Problem:
    """A family's days: eight bottles a day, milk expressed six times a day, bags in the freezer."""
    rng = random.Random(seed)
    lots = []
    for i in range(rng.randint(2, 6)):
        dated = -rng.uniform(1, 70)
        lots.append(
            fresh(f"f{i}", round(rng.uniform(40, 130)), dated_h=dated, until_h=dated + 96, freeze_by_h=dated + 96)
        )
    for d in range(days):
        for k in range(6):
            at = 24.0 * d + 4 * k + rng.uniform(0, 1)
            ml = round(rng.gauss(125, 35) * share_fresh)
            if ml > 10:
                lots.append(
                    fresh(f"c{d}-{k}", ml, dated_h=at, from_h=at, coming=True, until_h=at + 96, freeze_by_h=at + 96)
                )
    for i in range(bags):
        age = rng.uniform(4, 150) * 24
        lots.append(
            frozen(f"b{i}", float(rng.choice([60, 80, 90, 100, 110, 120, 150])), dated_h=-age, until_h=183 * 24 - age)
        )
    if rng.random() < 0.5:
        lots.append(thawed("t0", round(rng.uniform(30, 120)), until_h=rng.uniform(5, 23)))
    needs, feeds = [], []
    for d in range(days):
        mean = rng.gauss(780, 60)
        away = d % 7 < 5
        for part, hours, leave in (("home", (1, 4, 16, 19, 22), None), ("care", (8, 11, 14), 6.5)):
            if part == "care" and not away:
                continue
            needs.append(
                need(f"{part}{d}", mean * len(hours) / 8, sd_ml=spread * mean * len(hours) / 8, short_cost=4.0,
                     where=part, leave_h=None if leave is None else 24 * d + leave)
            )  # fmt: skip
            feeds += [
                Feed(at_h=24.0 * d + h + rng.uniform(0, 1), need=f"{part}{d}", share=1 / len(hours)) for h in hours
            ]
    slots = tuple(
        Slot(24.0 * d + h, night)
        for d in range(days)
        for h, night in ((0, False), (6, False), (11, False), (14, True), (18, True))
    )
    return Problem(horizon_h=24.0 * days, lots=tuple(lots), needs=tuple(needs), feeds=tuple(feeds), slots=slots)


def wild(seed: int) -> Problem:
    """A random problem with every field in use, in any amounts."""
    rng = random.Random(seed)
    lots = []
    for i in range(rng.randint(0, 14)):
        form = rng.choice(["fresh", "fresh", "fresh", "frozen", "frozen", "thawed", "thawing"])
        from_h = rng.choice([0.0, 0.0, rng.uniform(0, 60)])
        until_h = from_h + rng.choice([-2.0, 1.0, 20.0, 50.0, 96.0, 2000.0]) * rng.uniform(0.5, 1)
        counter = form == "fresh" and rng.random() < 0.3
        lots.append(
            Lot(
                name=f"lot{i}", ml=rng.choice([0.0, rng.uniform(0, 200), 120.0, 5000.0]), form=form,  # type: ignore[arg-type]
                dated_h=from_h - rng.uniform(0, 900) * (form != "fresh"), until_h=until_h,
                margin_h=rng.choice([0.0, 0.5, 6.0]),
                from_h=from_h, coming=from_h > 0, best_h=rng.choice([None, until_h / 2]),
                freeze_by_h=rng.choice([None, until_h, until_h - 20]) if form == "fresh" else None,
                thaw=Thaw(rng.choice([0.0, 10.0, 13.0]), 24.0, 0.5, rng.random() < 0.5) if form == "frozen" else None,
                until_at=rng.choice([{}, {}, {"care": until_h - 5}]),
                children=rng.choice([None, None, frozenset({"Kim"}), frozenset({"Kim", "Noa"})]),
                group=rng.choice(["", "x"]),
                chore_by_h=from_h + rng.choice([-1.0, 0.5, 4.0]) if counter else None, held=rng.random() < 0.1,
            )
        )  # fmt: skip
    needs, feeds = [], []
    for n in range(rng.randint(0, 5)):
        start, count = rng.uniform(0, 60), rng.randint(1, 5)
        needs.append(
            need(f"n{n}", rng.choice([0.0, 150.0, 700.0, 1e5]), sd_ml=rng.choice([0.0, 60.0]),
                 child=rng.choice(["Kim", "Noa"]), where=rng.choice(["home", "care"]),
                 short_cost=rng.choice([0.0, 1.0, 4.0, 99.0]),
                 leave_h=rng.choice([None, None, start - 1]))
        )  # fmt: skip
        feeds += [Feed(at_h=start + 3 * k, need=f"n{n}", share=1 / count) for k in range(count)]
    slots = [Slot(24.0 * day + hour, hour > 13) for day in range(3) for hour in (0, 5, 11, 16) if rng.random() < 0.7]
    turn = rng.uniform(0, 40)
    return Problem(
        horizon_h=72.0, lots=tuple(lots), needs=tuple(needs), feeds=tuple(feeds), slots=tuple(slots),
        oldest_first=rng.random() < 0.7, order_slack_h=rng.choice([0.0, 168.0]),
        rotation=rng.choice([(), (), ((turn, turn + 24),)]), freeze_over=rng.random() < 0.7,
    )  # fmt: skip
