"""Short codes to write on a container: easy to say aloud, no two characters that look or sound alike."""

from __future__ import annotations

import random
from collections.abc import Callable
from itertools import product

# Without I and 1, O and 0, B and 8, S and 5, Z and 2, G and 6, V beside U, W (an M on a lid turned round);
# of M and N, D and T, B and P, C and K one each, since a code is said aloud.
CONSONANTS, VOWELS, DIGITS = "FHKMPRTY", "AEU", "3479"
SHORT = [f"{a}{b}{c}{d}" for a, b, c, d in product(CONSONANTS, VOWELS, DIGITS, DIGITS)]
_TRIES = 8


def _long(rng: random.Random) -> str:
    syllables = "".join(rng.choice(CONSONANTS) + rng.choice(VOWELS) for _ in range(2))
    return syllables + rng.choice(DIGITS) + rng.choice(DIGITS)


def new_codes(count: int, *, taken: Callable[[list[str]], set[str]], rng: random.Random) -> list[str]:
    """So many codes that no container has or had: four characters while they last, then six or more.

    `taken` says which of a list are in use already.
    """
    used = taken(SHORT)
    free = [code for code in SHORT if code not in used]
    rng.shuffle(free)
    found = free[:count]
    extra = ""
    while len(found) < count:
        tries = [_long(rng) + extra for _ in range(_TRIES * (count - len(found)))]
        used = taken(tries)
        fresh = [code for code in dict.fromkeys(tries) if code not in used and code not in found]
        found += fresh[: count - len(found)]
        extra += "" if fresh else rng.choice(DIGITS)
    return found
