"""What the commands that print do; to be loaded once the settings are."""

from __future__ import annotations

import json
from collections.abc import Sequence

from thawline.faces.cli.replay import UsageError
from thawline.faces.cli.table import plain
from thawline.faces.label_request import usual_stock
from thawline.faces.sheets.draw import Printed, printed
from thawline.faces.stock import OWN, Stock, StockError, presets, stock
from thawline.faces.words import words_for
from thawline.services import labels as service
from thawline.services import present, transfer
from thawline.services.backups import new_file
from thawline.services.board import clock_wrong
from thawline.services.people import Home
from thawline.site.sheet_commands import Asked


def labels(asked: Asked, codes: Sequence[str], address: str) -> bool:
    """Print the labels; whether every container was at hand."""
    home = service.home_named(*transfer.choose(asked.household))
    base = service.checked_address(address) or service.kept_address(home.preferences)
    if not base:
        raise UsageError("Where do the labels lead? Give --address https://NAME:PORT, or set it on the page: Labels.")
    now = present.now()
    if clock_wrong(home.store, now):
        raise UsageError("This computer's clock stands before its newest record: set it right first.")
    found = service.sheet(home, codes, now=now, base=base)
    if not found.labels:
        raise UsageError("None of these is at hand: nothing was printed.")
    made = _written(asked, home, found, asked.copies)
    there = {one.code for one in found.labels}
    missing = [code for code in dict.fromkeys(codes) if code not in there]
    _report(asked, made, len(there) * asked.copies, missing)
    return not missing


def blank(asked: Asked) -> None:
    """Print labels to write on."""
    home = service.home_named(*transfer.choose(asked.household))
    _label, found = service.blank(home, now=present.now())
    chosen = _stock(asked, home)
    count = asked.copies if chosen.roll else max(1, chosen.per_page - asked.start + 1)
    _report(asked, _written(asked, home, found, count), count, [])


def stock_list() -> None:
    """List the label stock by id and dimensions."""
    for one in presets().values():
        print(f"{one.id:15} {one.name}")  # noqa: T201  (a command prints)


def _stock(asked: Asked, home: Home) -> Stock:
    sent = {"stock": asked.stock or usual_stock(home)}
    if "=" in asked.stock:
        pairs = (one.partition("=") for one in asked.stock.split(","))
        sent = {"paper": "a4", **{key.strip(): value.strip() for key, _is, value in pairs}, "stock": OWN}
    return stock(sent)


def _written(asked: Asked, home: Home, found: service.Sheet, copies: int) -> Printed:
    try:
        chosen = _stock(asked, home)
        words = words_for(found.zone, present.now(), found.units)
        start = 1 if chosen.roll else asked.start
        made = printed(found.labels, words, chosen, start=start, copies=copies, outline=asked.outline)
    except StockError as fault:
        raise UsageError(f"{fault} ({fault.field})") from fault
    with new_file(asked.out, force=asked.force) as part:
        part.write_bytes(made.pdf)
    return made


def _counted(count: int, word: str) -> str:
    return f"{count} {word}" if count == 1 else f"{count} {word}s"


def _report(asked: Asked, made: Printed, count: int, missing: Sequence[str]) -> None:
    if asked.json:
        told = {"file": str(asked.out), "labels": count, "pages": made.pages, "missing": list(missing),
                "left_out": {code: list(gone) for code, gone in made.gone.items()}}  # fmt: skip
        print(json.dumps(told, ensure_ascii=False))  # noqa: T201  (a command prints)
        return
    labels, pages = _counted(count, "label"), _counted(made.pages, "page")
    print(plain(f"{asked.out}: {labels} on {pages}, {made.stock.name}"))  # noqa: T201  (as above)
    for code in missing:
        print(plain(f"{code} is not at hand: no label."))  # noqa: T201  (as above)
