"""`thawline heat bounds`: what a ledger's measured containers let the clocks assume, for `replay --bounds`."""

from __future__ import annotations

import json
from datetime import UTC, datetime
from typing import Annotated

import typer

from thawline.core.replay import moment
from thawline.faces.cli.heat import heat


@heat.command("bounds")
def bounds(
    file: Annotated[str, typer.Argument(help="a ledger (NDJSON); - reads standard input")],
    now: Annotated[str | None, typer.Option(help="as of this time (RFC 3339); else the clock's")] = None,
    zone: Annotated[str, typer.Option(help="write times on this zone's clock")] = "UTC",
) -> None:
    """Print early and late times worked out from measured containers and logged places (JSON)."""
    from thawline.faces.cli.replay import lines_of
    from thawline.services.ledger_bounds import as_object, of_ledger

    at = moment(now or datetime.now(UTC).isoformat())
    print(json.dumps(as_object(of_ledger(lines_of(file), now=at), zone), indent=2, ensure_ascii=False))
