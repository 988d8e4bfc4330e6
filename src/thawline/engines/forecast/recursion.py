"""Milk that can be divided at will, oldest first, each part with its last day: exact, by sums alone."""

from __future__ import annotations

from typing import NamedTuple

import numpy as np

from .course import Array

__all__ = ["Drawn", "follow"]


class Drawn(NamedTuple):
    """By day (row) and path, in mL: what was fed, and what ended unused at the day's end."""

    fed: Array
    expired: Array


def follow(demand: Array, there: Array | float, ended: Array) -> Drawn:
    """Feed `demand` a day out of a queue in which what ends first is fed first.

    By day (row) and path, each counted from the beginning: `there`, all that has come in and can be fed on that day;
    `ended`, all of it whose last day is that day or before, so never more than `there`. With R(t) all that has left,
    fed or ended: R(t) = max(min(R(t-1) + demand(t), there(t)), ended(t)). Demand that meets nothing is lost. Derived
    here: the queue's order makes what has left a single figure.
    """
    demand, there, ended = np.broadcast_arrays(demand, there, ended)
    fed, expired = np.empty(demand.shape), np.empty(demand.shape)
    left = np.zeros(demand.shape[1:])
    for t, asked in enumerate(demand):
        drunk = np.minimum(left + asked, there[t])
        after = np.maximum(drunk, ended[t])
        fed[t], expired[t], left = drunk - left, after - drunk, after
    return Drawn(fed, expired)
