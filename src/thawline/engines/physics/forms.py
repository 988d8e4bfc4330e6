"""Closed forms of heating, cooling, freezing and melting. SI units, temperatures in C; time in seconds."""

from __future__ import annotations

import math
from collections.abc import Callable
from typing import Literal, NamedTuple

import numpy as np
import numpy.typing as npt
from scipy.optimize import brentq
from scipy.special import erf, erfcx, erfinv, j0, j1, jn_zeros

from .numbers import coefficients
from .spread import INFINITE

Body = Literal["slab", "cylinder", "sphere"]
Floats = npt.NDArray[np.float64]

_SHARE: dict[Body, tuple[float, float]] = {
    "slab": (1 / 2, 1 / 8),
    "cylinder": (1 / 4, 1 / 16),
    "sphere": (1 / 6, 1 / 24),
}


class Phase(NamedTuple):
    """One phase of a substance: conductivity W/(m K), density kg/m3, specific heat J/(kg K)."""

    k: float
    rho: float
    c: float

    @property
    def diffusivity(self) -> float:
        """How fast heat spreads in it, m2/s."""
        return self.k / (self.rho * self.c)


# Mixed bodies: one temperature throughout


def mixed_time_s(tau_s: float, start_c: float, end_c: float, around_c: float) -> float:
    """Seconds until a well mixed body goes from start to end; infinite where what is around it never takes it there."""
    if start_c == end_c:
        return 0.0
    ratio = (start_c - around_c) / (end_c - around_c) if end_c != around_c else INFINITE
    return tau_s * math.log(ratio) if 1 <= ratio < INFINITE else INFINITE


def mixed_c(tau_s: float, start_c: float, around_c: float, after_s: float) -> float:
    """Temperature of a well mixed body after a while, in C."""
    return around_c + (start_c - around_c) * math.exp(-after_s / tau_s)


def mixed_times_s(c: Floats, j_kg: Floats, around_c: float, kg_per_w_k: float) -> Floats:
    """Seconds from the first temperature to each of the others along an enthalpy curve, the body well mixed.

    `c` runs one way, `j_kg` is the enthalpy at each; between two of them it is taken as straight, which is exact.
    Temperatures that are never reached have infinity.
    """
    gap = around_c - np.asarray(c, dtype=float)
    heat = np.diff(np.asarray(j_kg, dtype=float))
    out = np.full(len(gap), INFINITE)
    out[0] = 0.0
    reached = int(np.argmax(np.sign(gap) != np.sign(gap[0]))) if np.any(np.sign(gap) != np.sign(gap[0])) else len(gap)
    if reached < 2 or gap[0] == 0 or heat[0] * gap[0] < 0:
        return out
    a, b = gap[: reached - 1], gap[1:reached]
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.where(np.isclose(a, b, rtol=1e-9, atol=0), (a + b) / 2, (a - b) / np.log(a / b))
    out[1:reached] = np.cumsum(heat[: reached - 1] / mean) * kg_per_w_k
    return out


# Conduction in a solid body


def roots(body: Body, bi: float, count: int) -> Floats:
    """The first roots of the conduction series for Bi = film * half thickness or radius / conductivity."""
    if body == "slab":
        lows = np.arange(count) * math.pi
        highs = lows + math.pi / 2

        def gap(z: float) -> float:
            return float(z * math.sin(z) - bi * math.cos(z))
    elif body == "cylinder":
        lows = np.concatenate([[0.0], jn_zeros(1, count - 1)]) if count > 1 else np.array([0.0])
        highs = jn_zeros(0, count)

        def gap(z: float) -> float:
            return float(z * j1(z) - bi * j0(z))
    else:
        lows = np.arange(count) * math.pi
        highs = lows + math.pi

        def gap(z: float) -> float:
            return math.sin(z) * (1 - bi) - z * math.cos(z)

    return np.array([brentq(gap, low + 1e-12, high, xtol=1e-14) for low, high in zip(lows, highs, strict=True)])


def weights(body: Body, z: Floats) -> Floats:
    """What each term of the conduction series weighs at the centre."""
    if body == "slab":
        return 4 * np.sin(z) / (2 * z + np.sin(2 * z))
    if body == "cylinder":
        return np.asarray(2 * j1(z) / (z * (j0(z) ** 2 + j1(z) ** 2)))
    return 4 * (np.sin(z) - z * np.cos(z)) / (2 * z - np.sin(2 * z))


def conduction(body: Body, bi: float, fo: float, at: float = 0.0, terms: int = 50) -> float:
    """How much of the first temperature gap is left at a place (0 centre, 1 surface) after Fo."""
    z = roots(body, bi, terms)
    if body == "slab":
        shape = np.cos(z * at)
    elif body == "cylinder":
        shape = j0(z * at)
    else:
        shape = np.sinc(z * at / math.pi)
    return float(np.sum(weights(body, z) * np.exp(-(z**2) * fo) * shape))


def conduction_time_s(
    body: Body, phase: Phase, *, half_m: float, film: float, left: float, at: float = 0.0, terms: int = 50
) -> float:
    """Seconds until that part of the first temperature gap is left at a place (0 centre, 1 surface)."""
    bi = film * half_m / phase.k
    z = roots(body, bi, 1)[0]
    upper = 2 * math.log(2 / left) / z**2
    fo = float(brentq(lambda f: conduction(body, bi, f, at, terms) - left, 1e-6, upper, xtol=1e-12))
    return fo * half_m**2 / phase.diffusivity


# Freezing and melting


def plank_s(body: Body, *, rho: float, latent: float, gap_k: float, across_m: float, film: float, k: float) -> float:
    """Seconds to freeze or melt a body that starts at its freezing point, by Plank; latent heat in J/kg.

    Overstates thawing in a refrigerator by a fifth to a third: milk melts over a range of temperatures.
    """
    surface, inner = _SHARE[body]
    return rho * latent / gap_k * (surface * across_m / film + inner * across_m**2 / k)


def cleland_thaw_s(
    body: Body, *, thawed: Phase, frozen: Phase, heat: float, across_m: float, film: float, freezes_c: float,
    start_c: float, around_c: float,
) -> float:  # fmt: skip
    """Seconds to thaw to a centre of 0 C, by Cleland and others; `heat` in J/m3 from -10 to 0 C."""
    p, r = coefficients("forms", "cleland_thaw", "p"), coefficients("forms", "cleland_thaw", "r")
    surface, inner = _SHARE[body]
    bi = film * across_m / thawed.k
    ste = thawed.rho * thawed.c * (around_c - freezes_c) / heat
    pk = frozen.rho * frozen.c * (freezes_c - start_c) / heat
    p1 = surface * (p[0] + p[1] * ste * pk)
    p2 = inner * (r[0] + r[1] * ste + r[2] * ste**2)
    return across_m**2 / thawed.diffusivity * (p1 / (bi * ste) + p2 / ste)


def pham_freeze_s(
    body: Body, *, thawed: Phase, frozen: Phase, latent: float, half_m: float, film: float, start_c: float,
    centre_c: float, around_c: float,
) -> float:  # fmt: skip
    """Seconds to freeze to a centre temperature, by Pham; latent heat in J/kg."""
    mean = coefficients("forms", "pham_mean", "terms")
    freezing = mean[0] + mean[1] * centre_c + mean[2] * around_c
    cool = thawed.rho * thawed.c * (start_c - freezing) / ((start_c + freezing) / 2 - around_c)
    freeze = thawed.rho * (latent + frozen.c * (freezing - centre_c)) / (freezing - around_c)
    times = {"slab": 1.0, "cylinder": 2.0, "sphere": 3.0}[body]
    return half_m / (times * film) * (cool + freeze) * (1 + film * half_m / frozen.k / 2)


def neumann(growing: Phase, other: Phase, *, latent: float, wall_c: float, far_c: float, melts_c: float = 0.0) -> float:
    """The factor of a front that grows from a wall held at `wall_c`: depth over 2 sqrt(its diffusivity * time)."""
    gap = abs(melts_c - wall_c)
    far = abs(far_c - melts_c)
    ratio = math.sqrt(growing.diffusivity / other.diffusivity)

    def balance(x: float) -> float:
        through = growing.c * gap / (math.exp(x * x) * erf(x))
        from_far = other.k / growing.k * ratio * growing.c * far / erfcx(x * ratio)
        return float(through - from_far - x * math.sqrt(math.pi) * latent)

    return float(brentq(balance, 1e-6, 3.0, xtol=1e-14))


def front_s(factor: float, growing: Phase, depth_m: float) -> float:
    """Seconds until a front with that factor has gone so deep."""
    return (depth_m / (2 * factor)) ** 2 / growing.diffusivity


def lake_ice_m(k: float, rho: float, latent: float, gap_k: float, after_s: float) -> float:
    """Thickness of ice that grows on water at its freezing point below a surface colder by `gap_k`."""
    return math.sqrt(2 * k * gap_k * after_s / (rho * latent))


def film_melts_s(depth_m: float, *, rho: float, latent: float, film: float, gap_k: float) -> float:
    """Seconds for ice at its melting point to recede so far where the melt runs off."""
    return rho * latent * depth_m / (film * gap_k)


def depth_m(phase: Phase, *, start_c: float, surface_c: float, at_c: float, after_s: float) -> float:
    """How deep a change of the surface has gone, as far as `at_c`, in a body without end."""
    left = (at_c - surface_c) / (start_c - surface_c)
    return float(2 * math.sqrt(phase.diffusivity * after_s) * erfinv(left))


# Two bodies that warm each other


def shared_c(first_j_k: float, first_c: float, second_j_k: float, second_c: float) -> float:
    """Where two bodies of those heat capacities settle, in C."""
    return (first_j_k * first_c + second_j_k * second_c) / (first_j_k + second_j_k)


def shared_tau_s(first_j_k: float, second_j_k: float, w_k: float) -> float:
    """How slowly two bodies settle that share `w_k` W/K and nothing else."""
    return 1 / (w_k * (1 / first_j_k + 1 / second_j_k))


def bath_end_c(heat: Callable[[float], float], kg: float, start_c: float, water_j_k: float, water_c: float) -> float:
    """Where milk and a closed bowl of water settle, in C; `heat` gives the milk's enthalpy in J/kg at a temperature."""
    before = heat(start_c)

    def balance(c: float) -> float:
        return kg * (heat(c) - before) - water_j_k * (water_c - c)

    low, high = sorted((start_c, water_c))
    return low if low == high else float(brentq(balance, low, high, xtol=1e-10))


def bath_water_kg(
    heat: Callable[[float], float], kg: float, start_c: float, end_c: float, water_c: float, water_c_j: float
) -> float:
    """The least water that takes milk to `end_c` before losses, in kg; infinite where the water is too cold."""
    if water_c <= end_c:
        return INFINITE
    return kg * (heat(end_c) - heat(start_c)) / (water_c_j * (water_c - end_c))
