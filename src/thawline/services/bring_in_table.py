"""A table out of a file or a paste: its encoding, what stands between its cells, its heading, its rows."""

from __future__ import annotations

import base64
import binascii
import csv
import io
import re
import zlib
from collections import Counter
from collections.abc import Iterator, Sequence
from typing import Literal, NamedTuple

from thawline.services.paste_words import fold

MOST_BYTES, MOST_ROWS, MOST_COLUMNS = 4_000_000, 20_000, 60
_LONGEST_CELL, _SAMPLE, _SHOWN = 2000, 200, 5
SIGNS = {"\t": "tab", ";": "semicolon", "|": "upright bar", ",": "comma"}
_QUOTE_IN_TEXT = 20


class CannotReadError(ValueError):
    """A file that is no table; its text says what to do."""


class Line(NamedTuple):
    """A row of the table and the line of the file on which it begins."""

    number: int
    cells: tuple[str, ...]


class Table(NamedTuple):
    """A table: the names of its columns (numbered where it has no heading), its rows, how it was written."""

    heads: tuple[str, ...]
    headed: bool
    rows: tuple[Line, ...]
    sign: str
    encoding: str

    def examples(self, column: int) -> list[str]:
        """The first filled cells of a column."""
        found = (row.cells[column] for row in self.rows[:_SAMPLE] if column < len(row.cells) and row.cells[column])
        return [cell[:40] for cell, _ in zip(dict.fromkeys(found), range(_SHOWN), strict=False)]


# ---- encoding ----------------------------------------------------------------------------------------------


def decoded(data: bytes) -> tuple[str, str]:
    """The text of a file and the encoding it was in; raises `CannotReadError`."""
    if len(data) > MOST_BYTES:
        raise CannotReadError(f"That is more than {MOST_BYTES // 1_000_000} MB: bring it in as several files.")
    encoding = _encoding(data)
    text = data.decode(encoding, errors="replace").removeprefix("\ufeff")
    if "\0" in text:
        raise CannotReadError("That is not a table in text form: save it as CSV and choose that file.")
    return text, {"utf-8-sig": "UTF-8", "cp1252": "Windows-1252"}.get(encoding, "UTF-16")


def _encoding(data: bytes) -> str:
    if data[:2] in (b"\xff\xfe", b"\xfe\xff"):
        return "utf-16"
    start = data[:400]
    if len(start) >= 4 and start[1::2].count(0) > len(start) // 3:
        return "utf-16-le"
    if len(start) >= 4 and start[::2].count(0) > len(start) // 3:
        return "utf-16-be"
    try:
        data.decode("utf-8-sig")
    except UnicodeDecodeError:
        return "cp1252"
    return "utf-8-sig"


def packed(text: str) -> str:
    """A text small enough for a form to carry from one page to the next."""
    return base64.urlsafe_b64encode(zlib.compress(text.encode("utf-8", "replace"), 6)).decode()


def unpacked(text: str) -> str:
    """The text of `packed`; raises `CannotReadError` where it did not arrive whole."""
    whole = zlib.decompressobj()
    try:
        data = whole.decompress(base64.urlsafe_b64decode(text.encode()), 4 * MOST_BYTES)
        if whole.unconsumed_tail or not whole.eof:
            raise ValueError
        return data.decode()
    except (zlib.error, binascii.Error, ValueError) as fault:
        raise CannotReadError("The table did not arrive whole: please choose the file again.") from fault


# ---- cells -------------------------------------------------------------------------------------------------


def _read(text: str, sign: str, *, quoted: bool = True) -> Iterator[Line]:
    quoting: Literal[0, 3] = csv.QUOTE_MINIMAL if quoted else csv.QUOTE_NONE
    reader = csv.reader(io.StringIO(text, newline=""), delimiter=sign, skipinitialspace=True, quoting=quoting)
    before = 0
    for cells in reader:
        number, before = before + 1, reader.line_num
        yield Line(number, tuple(_plain(cell, quoted=quoted) for cell in cells))


def _plain(cell: str, *, quoted: bool) -> str:
    cell = " ".join(cell.split())
    if not quoted and len(cell) > 1 and cell[0] == cell[-1] == '"':
        cell = cell[1:-1]
    # What a guard against formulas put before a text is no part of it.
    return cell[1:] if re.match(r"'[=+\-@\uff1d\uff0b\uff0d\uff20]", cell) else cell


def _rows(text: str, sign: str) -> list[Line]:
    """The filled rows; where a lone quote would swallow lines, quotes count as letters."""
    plain = text.replace("\r\n", "\n").replace("\r", "\n")
    try:
        found = _filled(_read(plain, sign))
    except csv.Error:
        found = []
    if found and not _swallowed(plain, found):
        return found
    try:
        return _filled(_read(plain, sign, quoted=False))
    except csv.Error as fault:
        raise CannotReadError("A row of it is too long for a table: save it as CSV and choose that file.") from fault


def _swallowed(text: str, found: Sequence[Line]) -> bool:
    longest = max((len(cell) for row in found for cell in row.cells), default=0)
    return longest > _LONGEST_CELL or (text.count('"') % 2 == 1 and text.count("\n") > len(found) + _QUOTE_IN_TEXT)


def _filled(rows: Iterator[Line]) -> list[Line]:
    found: list[Line] = []
    for row in rows:
        if not any(re.search(r"\w", cell) for cell in row.cells):
            continue
        found.append(row)
        if len(found) > MOST_ROWS + 10:
            raise CannotReadError(f"That is more than {MOST_ROWS:,} rows: bring it in as several files.")
    return found


def _sign(text: str) -> str:
    """What stands between the cells: the sign that gives most lines the same number of them, more than one."""
    sample = "\n".join(text.replace("\r\n", "\n").replace("\r", "\n").split("\n")[:_SAMPLE])
    best, found = 0.0, ""
    for sign in SIGNS:
        try:
            widths = Counter(len(row.cells) for row in _filled(_read(sample, sign)))
        except csv.Error:
            continue
        width, count = max(widths.items(), key=lambda item: (item[1], item[0]), default=(0, 0))
        share = count / max(1, sum(widths.values())) if width > 1 else 0.0
        if share > best + 0.1:
            best, found = share, sign
    return found or ","


# ---- the heading -------------------------------------------------------------------------------------------


def _has_figure(cells: Sequence[str]) -> bool:
    return any(re.match(r"[-+]?\d", cell) for cell in cells)


def _heading(rows: Sequence[Line], known: re.Pattern[str]) -> int | None:
    """Which of the first rows names the columns; None where none does."""
    narrow = max(len(row.cells) for row in rows[:_SAMPLE]) <= 2
    for index, row in enumerate(rows[:6]):
        if _has_figure(row.cells):
            break
        named = sum(bool(known.search(fold(cell))) for cell in row.cells if cell)
        # A title over a wide table names no column.
        if named >= 2 or (named and narrow):
            return index
    plain = len(rows) > 1 and not _has_figure(rows[0].cells) and _has_figure(rows[1].cells)
    return 0 if plain and len(rows[0].cells) > 1 else None


def table_of(text: str, known: re.Pattern[str], *, encoding: str = "UTF-8") -> Table:
    """A text as a table; `known` finds a word that names a column; raises `CannotReadError`."""
    sign = _sign(text)
    rows = _rows(text, sign)
    if not rows:
        raise CannotReadError("There is nothing in it: choose a file with at least one row.")
    index = _heading(rows, known)
    body = rows if index is None else rows[index + 1 :]
    if len(body) > MOST_ROWS:
        raise CannotReadError(f"That is {len(body):,} rows: bring in at most {MOST_ROWS:,} at a time.")
    width = max(len(row.cells) for row in rows)
    if width > MOST_COLUMNS:
        raise CannotReadError(f"That is {width} columns: keep the ones that matter, at most {MOST_COLUMNS}.")
    named = rows[index].cells if index is not None else ()
    heads = tuple(
        (named[n] if n < len(named) and named[n] else f"column {n + 1}")[:80] for n in range(width)
    )  # fmt: skip
    return Table(heads, index is not None, tuple(body), sign, encoding)
