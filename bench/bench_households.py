"""Simulated households under each way of using their milk, on the same days: what is thrown away, and what is short.

    python -m bench.bench_households --households 200 --days 60

The households are shared out over the three classes. For each class it prints what each policy feeds, throws away and
lacks, the comparisons that are promised with their intervals, and the spreadsheet habit; `--json` writes it all down.
The exit status is 0 whatever the figures.
"""

from __future__ import annotations

import argparse
import json
import logging
import multiprocessing
import os
import sys
import time
from collections.abc import Sequence
from pathlib import Path
from typing import Any

os.environ.setdefault("DJANGO_SETTINGS_MODULE", "thawline.site.settings")
for threads in ("OMP_NUM_THREADS", "OPENBLAS_NUM_THREADS"):
    os.environ.setdefault(threads, "1")

import numpy as np  # noqa: E402  (threads are told before)
from bench.simulated import compare  # noqa: E402
from bench.simulated.compare import BEST, Household, Interval, Job, Verdicts  # noqa: E402
from bench.simulated.families import KINDS, Kind  # noqa: E402
from bench.simulated.world import Scale  # noqa: E402


def jobs(given: argparse.Namespace) -> list[Job]:
    """The households to run, the classes by turns."""
    kinds: tuple[Kind, ...] = tuple(kind for kind in KINDS if given.kind in (kind, "all"))
    scale = Scale(given.scale_surprises, given.scale_forgetting, given.scale_noise)
    return [
        Job(given.seed, number // len(kinds), kinds[number % len(kinds)], given.days, scale, given.whole, given.refine)
        for number in range(given.households)
    ]


def ran(todo: Sequence[Job], workers: int) -> list[Household]:
    """All of them, in order, shared out over so many processes."""
    if workers <= 1:
        return [compare.run(job) for job in todo]
    with multiprocessing.get_context("spawn").Pool(workers, maxtasksperchild=8) as pool:
        found = []
        for household in pool.imap(compare.run, todo, chunksize=1):
            found.append(household)
            print(f"\r{len(found)} of {len(todo)}", end="", file=sys.stderr, flush=True)
        print(file=sys.stderr)
        return found


def told(kind: str, households: Sequence[Household]) -> list[str]:
    """A class in lines of text."""
    best = compare.best_size(households)
    days = households[0].job.days
    lines = [
        f"{kind}: {len(households)} households, {sum(one.apart for one in households)} with days apart, {days} days",
        "  mL a household and day              fed   thrown  of fed   short (unmet) left over  late  acts",
    ]
    for name in (*compare.POLICIES[:2], best, *compare.POLICIES[3:]):
        rows = [one.ran[name] for one in households]
        per = len(rows) * days
        fed, thrown = max(1.0, sum(r.fed for r in rows)), sum(r.thrown for r in rows)
        over = sum(r.by.get("leftover", 0.0) for r in rows)
        lines.append(
            f"  {name:<32}{fed / per:7.0f}{thrown / per:9.1f}{thrown / fed:8.1%}{sum(r.short for r in rows) / per:8.1f}"
            f"{sum(r.unmet for r in rows) / per:8.1f}{over / per:10.1f}{sum(r.late for r in rows):6.0f}"
            f"{sum(sum(r.acts.values()) for r in rows):6d}"
        )
    why = [_thrown(name, households) for name in (compare.GREEDY, compare.THAWLINE, compare.KNOWING)]
    return lines + why + _promises(compare.judge(households)) + _sheet(households)


def _thrown(name: str, households: Sequence[Household]) -> str:
    """Why milk was thrown away, mL a household and day."""
    per, sums = len(households) * households[0].job.days, dict[str, float]()
    for one in households:
        for why, ml in one.ran[name].by.items():
            sums[why] = sums.get(why, 0.0) + ml
    return f"  {name} throws away " + ", ".join(f"{why} {ml / per:.1f}" for why, ml in sorted(sums.items()))


def _promises(found: Verdicts) -> list[str]:
    def by(one: Interval, form: str) -> str:
        return f"{one.mean:{form}} ({one.low:{form}} to {one.high:{form}})"

    return [
        f"  Thawline: fed past a deadline {found.late_ml:.0f} mL, refrozen {found.refrozen_ml:.0f} mL",
        f"  thrown, as a part of by hand: {by(found.of_hand, '.3f')}; to be at most 0.500",
        f"  greedy throws more, mL a day: {by(found.less_than_greedy_ml_d, '.1f')}; to be above 0",
        f"  over knowing, of the milk fed: {by(found.over_knowing, '.2%')}; to be at most 2 %",
        f"  short, beyond by hand, mL a day: {by(found.short_over_hand_ml_d, '.1f')}; to be at most 0",
        f"  short, beyond by hand with topping up, mL a day: {by(found.short_over_topped_ml_d, '.1f')}",
        f"  misses: {', '.join(found.misses()) or 'none'}",
    ]


def _sheet(households: Sequence[Household]) -> list[str]:
    lines = ["  the spreadsheet, dates only (chilled: date + 4 days; thawed: date + 1 day), against the clock rules:"]
    for index, habit in enumerate(households[0].sheet):
        off = np.array([one for household in households for one in household.sheet[index].off_h])
        if not len(off):
            continue
        late, early = off[off > 0.02], -off[off < -0.02]
        lines.append(
            f"    {habit.what:<28}{len(off):6d} containers; late {len(late) / len(off):6.1%}"
            f" by {np.mean(late) if len(late) else 0:5.1f} h; needlessly early {len(early) / len(off):6.1%}"
            f" by {np.mean(early) if len(early) else 0:5.1f} h"
        )
    return lines


def plain(households: Sequence[Household]) -> dict[str, Any]:
    """Everything measured, for `--json`."""
    found: dict[str, Any] = {}
    for kind in KINDS:
        some = [one for one in households if one.job.kind == kind]
        if some:
            verdicts = compare.judge(some)
            found[kind] = {
                "best_size": compare.best_size(some).removeprefix(f"{BEST} "),
                "promises": {k: v._asdict() if isinstance(v, Interval) else v for k, v in verdicts._asdict().items()},
                "misses": verdicts.misses(),
                "households": [
                    {"number": h.job.number, "apart": h.apart, "wanted": h.wanted,
                     "ran": {name: r._asdict() for name, r in h.ran.items()}} for h in some
                ],
            }  # fmt: skip
    return found


def arguments(given: Sequence[str] | None = None) -> argparse.Namespace:
    """What was asked for."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--households", type=int, default=200, help="in all, shared out over the classes")
    parser.add_argument("--days", type=int, default=60)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--class", dest="kind", choices=(*KINDS, "all"), default="all")
    parser.add_argument("--workers", type=int, default=os.cpu_count() or 1)
    parser.add_argument("--scale-surprises", type=float, default=1.0, help="growth spurts, illness, dips, absences")
    parser.add_argument("--scale-forgetting", type=float, default=1.0)
    parser.add_argument("--scale-noise", type=float, default=1.0, help="spread from day to day and session to session")
    parser.add_argument("--whole", action="store_true", help="by hand a whole day's need is thawed each evening")
    parser.add_argument("--refine", action="store_true", help="with the mixed-integer refinement at each look (slow)")
    parser.add_argument("--json", type=Path, help="write everything measured to this file")
    found = parser.parse_args(given)
    if found.households < 1 or found.days < 3:
        parser.error("--households from 1 on, --days from 3 on")
    return found


def main() -> None:
    """Run, print, write down."""
    logging.disable(logging.WARNING)
    given, began = arguments(), time.monotonic()
    households = ran(jobs(given), given.workers)
    for kind in KINDS:
        some = [one for one in households if one.job.kind == kind]
        if some:
            print("\n".join(told(kind, some)), end="\n\n")
    wrong = [fault for one in households for row in one.ran.values() for fault in row.faults]
    print(f"core and plain count differ: {wrong[:5] or 'nowhere'}; {time.monotonic() - began:.0f} s")
    if given.json is not None:
        given.json.write_text(json.dumps(plain(households), indent=1), encoding="utf-8")


if __name__ == "__main__":
    main()
