"""Which letters can be printed: scripts whose letters stand side by side, without shaping or marks set on them."""

from __future__ import annotations

import unicodedata

# A space at which a line is not broken while there is another.
HARD = "\u00a0"
# Blocks: Latin, Greek, Cyrillic, Georgian, Latin and Greek with marks, punctuation to symbols.
_CLAIMED = (
    (0x20, 0x2FF), (0x370, 0x52F), (0x10A0, 0x10FF), (0x1C90, 0x1CBF), (0x1E00, 0x2BFF), (0x2C60, 0x2C7F),
    (0xA640, 0xA69F), (0xA720, 0xA7FF), (0xFB00, 0xFB06),
)  # fmt: skip
_INVISIBLE = ("Cc", "Cf", "Co", "Cs", "Cn", "Mn", "Mc", "Me", "Zl", "Zp")


def composed(text: str) -> str:
    """A text in composed characters (NFC), on one line; a space that does not break (U+00A0) stays one."""
    spaced = "".join(" " if one.isspace() and one != HARD else one for one in unicodedata.normalize("NFC", text))
    return " ".join(one for one in spaced.split(" ") if one)


def claimed(one: str) -> bool:
    """Whether a character is of a script that is printed."""
    return unicodedata.category(one) not in _INVISIBLE and any(low <= ord(one) <= high for low, high in _CLAIMED)


def unclaimed(text: str) -> str:
    """The characters of a text that are of no script that is printed, each once."""
    return "".join(dict.fromkeys(one for one in composed(text) if not claimed(one)))
