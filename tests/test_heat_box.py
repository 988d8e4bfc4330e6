"""A refrigerator or freezer without power: worked examples with their source, and what may never reverse."""

from __future__ import annotations

import math
from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import solve_ivp

from thawline.engines.physics import box
from thawline.engines.physics.box import Fill, Kind

ROOM = st.floats(-5, 45)
KINDS = st.sampled_from(["refrigerator", "freezer"])
FILLS = st.sampled_from(["full", "half", "little"])
PUBLISHED_H = {"full": 48.0, "half": 24.0, "little": 0.0}


def freezer(kg: float, start_c: float = -18) -> box.Box:
    return box.box("freezer", "half", contents_kg=kg, start_c=start_c)


@pytest.mark.parametrize(("kg", "solid_h", "thawed_h"), [(5, 1.3, 11), (15, 4.0, 33), (40, 10.8, 89)])
def test_freezer_warms(kg: float, solid_h: float, thawed_h: float) -> None:
    """Own computation at 25 C and 1.1 W/K; the prototype's figures are rounded to the digits shown."""
    assert box.reach_h(freezer(kg), -5, 25) == pytest.approx(solid_h, rel=0.05)
    assert box.reach_h(freezer(kg), box.thawed_c(), 25) == pytest.approx(thawed_h, rel=0.02)


def test_refrigerator_is_above_8_c_after_two_hours() -> None:
    """Own computation, 15 kg at 25 C and 1.5 W/K: 8 C at 2.1 h, 11 C at 4 h."""
    here = box.box("refrigerator", "half")
    assert box.reach_h(here, 8, 25) == pytest.approx(2.1, abs=0.05)
    assert box.path(here, 25, hours=4, points=5).nominal_c[-1] == pytest.approx(11, abs=0.1)


def test_measured_freezer_lies_between_early_and_late() -> None:
    """Hobby measurement (woodgears.ca), 19 C room, from -20, food of unknown mass: -14 at 3.5, -11.5 at 7.5 h."""
    course = box.path(freezer(35, -20), 19, hours=7.5, points=16)
    for hours, measured in ((3.5, -14), (7.5, -11.5)):
        at = course.hours.index(hours)
        assert course.late_c[at] <= measured <= course.early_c[at]


def test_nearly_empty_freezer_is_far_from_half_a_full_one() -> None:
    """The same source: the empty one reached 0 C in 3.5 h, so 24 h promise it nothing."""
    assert box.reach_h(freezer(1, -20), box.thawed_c(), 19) < 3.5
    assert box.held_part("freezer", "half", contents_kg=9.9) == 0


def test_full_and_half_full_freezers_hold_in_proportion_as_the_rule_says() -> None:
    """US FDA and USDA (second-hand): 48 h full, 24 h half full."""
    full, half = (box.reach_h(box.box("freezer", fill), -5, 25) for fill in ("full", "half"))
    assert full == pytest.approx(2 * half)


@given(
    kg=st.floats(1, 60),
    start=st.floats(-25, -6),
    room=st.floats(10, 35),
    hours=st.floats(1, 40),
    leak=st.floats(0.5, 2),
)
def test_path_follows_the_differential_equation(
    kg: float, start: float, room: float, hours: float, leak: float
) -> None:
    """Oracle: scipy, on the enthalpy, before and through the melting."""
    here = box.Box("freezer", kg, start, leak)
    c = box.path(here, room, hours=hours, points=41)
    knots = np.concatenate([np.linspace(-30, -5, 50), np.linspace(-5, -0.5, 2000)[1:], np.linspace(-0.5, 40, 50)[1:]])
    heat = np.concatenate(
        [
            (knots[:50] + 5) * 3000,
            (-0.5 / knots[50:2049] - 0.1) / 0.9 * 200e3,
            200e3 + (knots[2049:] + 0.5) * 3600,
        ]
    )

    def rate(_: float, h: np.ndarray) -> np.ndarray:
        return np.asarray(leak * (room - np.interp(h, heat, knots)) / kg)

    run = solve_ivp(
        rate,
        (0, hours * 3600),
        [np.interp(start, knots, heat)],
        method="LSODA",
        rtol=1e-7,
        atol=1.0,
        max_step=hours * 900,
    )
    assert c.nominal_c[-1] == pytest.approx(float(np.interp(run.y[0, -1], heat, knots)), abs=0.05)


# How much of the published hours is left


def test_whole_hours_under_the_conditions_they_mean() -> None:
    assert box.held_part("freezer", "full") == 1
    assert box.held_part("freezer", "half") == 1
    assert box.held_part("refrigerator", None) == 1
    assert box.held_part("refrigerator", "half", room_c=25) == 1


def test_a_warm_room_shortens_them() -> None:
    """Hours go as 1 / (room - inside): own computation, full freezer at 35 C."""
    assert box.held_part("freezer", "full", room_c=35) == pytest.approx(0.731, abs=0.002)
    assert box.held_part("refrigerator", "half", room_c=35) == pytest.approx(math.log(31 / 27) / math.log(21 / 17))


def test_little_in_it_shortens_them() -> None:
    assert box.held_part("freezer", "full", contents_kg=20) == pytest.approx(0.5)
    assert box.held_part("freezer", "half", contents_kg=15) == pytest.approx(0.75)
    assert box.held_part("refrigerator", "little") == pytest.approx(1 / 3)


def test_a_warmer_start_shortens_them() -> None:
    assert box.held_part("freezer", "full", start_c=-12) < 0.6
    assert box.held_part("freezer", "full", start_c=-5) == 0
    assert box.held_part("refrigerator", "half", start_c=9, room_c=10) == 0


def test_a_cold_room_keeps_them_whole() -> None:
    assert box.held_part("refrigerator", "half", room_c=3) == 1
    assert box.held_part("freezer", "full", room_c=-10) == 1


def test_a_small_freezer_holds_less_and_a_large_one_no_more() -> None:
    small, large = (box.held_part("freezer", "full", litres=litres) for litres in (30, 400))
    assert small == pytest.approx(0.3 ** (1 / 3))
    assert large == 1
    assert box.held_part("freezer", "full", contents_kg=8, litres=30) > 0


@given(kind=KINDS, fill=FILLS | st.none(), room=ROOM)
def test_an_opened_box_promises_nothing(kind: Kind, fill: Fill | None, room: float) -> None:
    assert box.held_part(kind, fill, room_c=room, opened=True) == 0


@given(fill=st.sampled_from(["little", None]), kg=st.none() | st.floats(0, 100), room=ROOM)
def test_a_freezer_with_little_in_it_promises_nothing(fill: Fill | None, kg: float | None, room: float) -> None:
    assert box.held_part("freezer", fill, contents_kg=kg, room_c=room) == 0


@given(
    kind=KINDS,
    fill=FILLS,
    kg=st.none() | st.floats(0, 80),
    room=ROOM,
    litres=st.none() | st.floats(20, 500),
    start=st.none() | st.floats(-30, 12),
    more=st.floats(0.1, 10),
)
def test_worse_is_never_longer_and_nothing_is_lengthened(
    kind: Kind,
    fill: Fill,
    kg: float | None,
    room: float,
    *,
    litres: float | None,
    start: float | None,
    more: float,
) -> None:
    def part(**other: float | None) -> float:
        known = {"contents_kg": kg, "room_c": room, "litres": litres, "start_c": start, **other}
        return box.held_part(
            kind,
            fill,
            contents_kg=known["contents_kg"],
            room_c=known["room_c"],
            litres=known["litres"],
            start_c=known["start_c"],
        )

    here = part()
    assert 0 <= here <= 1
    assert part(room_c=room + more) <= here + 1e-12
    if kg is not None:
        assert part(contents_kg=max(kg - more, 0)) <= here + 1e-12
    if start is not None:
        assert part(start_c=start + more) <= here + 1e-12


@given(kg=st.none() | st.floats(0, 80), room=ROOM)
def test_an_emptier_freezer_never_has_more_hours(kg: float | None, room: float) -> None:
    hours = [
        PUBLISHED_H[fill] * box.held_part("freezer", fill, contents_kg=kg, room_c=room)
        for fill in ("full", "half", "little")
    ]
    assert all(less <= more + 1e-9 for more, less in pairwise(hours))


# Pictures


@given(kind=KINDS, kg=st.floats(0, 60), room=ROOM, start=st.floats(-25, 8), hours=st.floats(1, 72))
def test_picture_rises_towards_the_room_and_early_is_the_warmest(
    kind: Kind, kg: float, room: float, start: float, hours: float
) -> None:
    course = box.path(box.box(kind, "half", contents_kg=kg, start_c=start), room, hours=hours, points=25)
    assert len(course.hours) == len(course.early_c) == len(course.nominal_c) == len(course.late_c) == 25
    for early, nominal, late in zip(course.early_c, course.nominal_c, course.late_c, strict=True):
        assert early >= nominal - 1e-6 >= late - 2e-6
        assert min(start, room) - 1e-6 <= late
        assert early <= max(start, room) + 1e-6
    for line in course[1:]:
        assert all(after >= before - 1e-9 for before, after in pairwise(line))


@given(kg=st.floats(0.5, 60), room=ROOM, to_c=st.floats(-20, 20))
def test_early_nominal_and_late_keep_their_order(kg: float, room: float, to_c: float) -> None:
    found = box.reaches(freezer(kg), to_c, room)
    assert found.early_h <= found.nominal_h <= found.late_h


def test_a_room_that_never_takes_it_there() -> None:
    assert box.reach_h(freezer(10), 4, 4) == math.inf
    assert box.reach_h(freezer(10), -18, 25) == 0
    assert box.reach_h(freezer(0), 4, 25) == 0
