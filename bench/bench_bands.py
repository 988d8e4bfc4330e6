"""How often the forecast's 80 % bands hold what comes true, over invented families of published cohorts.

`python -m bench.bench_bands --families 2000 --seed 1` prints, for each target and group, the share within and a 95 %
interval of it. Goals: 77 to 83 % of all plain families for each target, 70 % and more of each misspecified kind. They
are goals, not a gate: the exit status is 0 whatever the figures.

The targets: the milk of the next 30 days, and the day on which a stock runs out. The second is whole days, and for some
families it is not within the 90 days looked at. Its place in the forecast is drawn at random within that day's own
share, and what is not seen counts as one day more, the last (`told_families.judge.place`): a forecast that is right has
exactly 80 % of places between 0.1 and 0.9, so that no family is left out and none counts as covered for being unseen.
"as shown" counts the days as a page shows them, both ends with them; that is more than 80 % of a right forecast.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator, Sequence

from bench.told_families.asked import Month, RunOut, month, run_out
from bench.told_families.family import KINDS, Kind
from bench.told_families.judge import Coverage, coverage

GOAL_PLAIN, GOAL_OTHER = (0.77, 0.83), 0.70


def months(kind: Kind, families: int, seed: int) -> list[Month]:
    """So many families of a kind and their next 30 days."""
    return [month(kind, seed, number) for number in range(families)]


def run_outs(kind: Kind, families: int, seed: int) -> list[RunOut]:
    """So many families of a kind and their stock's end."""
    return [run_out(kind, seed, number) for number in range(families)]


def month_groups(found: Sequence[Month]) -> Iterator[tuple[str, Coverage]]:
    """All, by what was told, and by age; then how often what came was below and above the band."""
    yield "all", coverage([one.within for one in found])
    for name, low, high in (("no day told", 0, 0), ("1 to 4 days", 1, 4), ("5 to 14 days", 5, 14)):
        yield name, coverage([one.within for one in found if low <= one.logs <= high])
    yield "to five months", coverage([one.within for one in found if not one.late])
    yield "after five months", coverage([one.within for one in found if one.late])
    yield "below", coverage([one.came < one.low for one in found])
    yield "above", coverage([one.came > one.high for one in found])


def run_out_groups(found: Sequence[RunOut]) -> Iterator[tuple[str, Coverage]]:
    """All, by what was told, by supply, and where the end is in doubt; then below, above, and as shown."""
    yield "all", coverage([one.within for one in found])
    for name, low, high in (("no day told", 0, 0), ("1 to 4 days", 1, 4), ("5 to 14 days", 5, 14)):
        yield name, coverage([one.within for one in found if low <= one.logs <= high])
    yield "stock alone", coverage([one.within for one in found if not one.supply])
    yield "expressing too", coverage([one.within for one in found if one.supply])
    yield "surely seen", coverage([one.within for one in found if one.never < 0.05])
    yield "perhaps seen", coverage([one.within for one in found if 0.05 <= one.never < 0.95])
    yield "sooner", coverage([one.place < 0.1 for one in found])
    yield "later", coverage([one.place > 0.9 for one in found])
    yield "as shown", coverage([one.shown for one in found])
    yield "(not seen)", coverage([one.came is None for one in found])


def _print(title: str, groups: Iterator[tuple[str, Coverage]]) -> None:
    print(title)
    for name, one in groups:
        print(f"  {name:<18} {one.share:6.1%}  ({one.low:.1%} to {one.high:.1%}), {one.within} of {one.of}")


def main() -> None:
    """Print the coverage of both targets, for plain families and each misspecified kind."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--families", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--kinds", nargs="*", choices=KINDS, default=list(KINDS))
    parser.add_argument("--targets", nargs="*", choices=("month", "run-out"), default=["month", "run-out"])
    asked = parser.parse_args()
    for kind in asked.kinds:
        if "month" in asked.targets:
            _print(f"30 days' milk, {kind} families", month_groups(months(kind, asked.families, asked.seed)))
        if "run-out" in asked.targets:
            _print(f"the stock's end, {kind} families", run_out_groups(run_outs(kind, asked.families, asked.seed)))


if __name__ == "__main__":
    main()
