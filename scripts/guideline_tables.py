"""Write the tables of docs/guidelines.md from the guideline files; --check: only say if they are current."""

from __future__ import annotations

import sys
import tomllib
from pathlib import Path
from typing import Any

ROOT = Path(__file__).resolve().parent.parent
FILES = ROOT / "src" / "thawline" / "core" / "guidelines"
PAGE = ROOT / "docs" / "guidelines.md"
BEGIN, END = "<!-- tables: begin -->\n", "<!-- tables: end -->\n"
CITED = ("publisher", "title", "edition", "place")


def conditions(row: dict[str, Any]) -> str:
    """What must hold for a row to count, in few words."""
    when = row.get("when", {})
    said = [", ".join(when["kind"])] if "kind" in when else []
    said += [f"{kind} ≤ {warmest}" for kind, warmest in when.get("band", {}).items()]
    said += [f"{kind} > {coldest}" for kind, coldest in when.get("above", {}).items()]
    said += ["temperature known"] if when.get("known") else []
    said += ["very clean"] if when.get("handling") else []
    return "; ".join(said)


def cite(row: dict[str, Any]) -> str:
    """Where a row's figure stands; publisher, title and edition only where they are not the file's own."""
    return ", ".join(str(row[part]) for part in CITED if part in row)


def table(data: dict[str, Any]) -> str:
    """One guideline: who publishes it, then its limits, bans and advice."""
    lines = [
        f"### `{data['id']}`: {data['name']}\n",
        f"{data['publisher']}, *{data['title']}*, {data['edition']}. {data['about']}\n",
        "| rule | time | from | where | kind | mark | place in the source |",
        "| --- | --- | --- | --- | --- | --- | --- |",
    ]
    for row in data.get("limit", []):
        name = row["id"].partition(".")[2]
        parts = [f"`{name}`", row["allows"], f"`{row['starts']}`", conditions(row), row["grade"], row["mark"]]
        lines.append("| " + " | ".join([*parts, cite(row)]) + " |")
    if data.get("ban"):
        bans = ", ".join(f"`{row['act']}` ({row['mark']})" for row in data["ban"])
        lines.append(f"\nForbids: {bans}.")
    if data.get("advice"):
        lines += ["\nAdvises:\n", *(f"- {row['says']} ({row['mark']})" for row in data["advice"])]
    return "\n".join(lines) + "\n"


def tables() -> str:
    """All guidelines, home ones first."""
    files = [tomllib.loads(path.read_text(encoding="utf-8")) for path in sorted(FILES.glob("*.toml"))]
    shown = [data for role in ("home", "childcare") for data in files if data["role"] == role]
    return "\n" + "\n".join(map(table, shown)) + "\n"


def main() -> int:
    """Write the page, or with --check return 1 where it is not current."""
    page = PAGE.read_text(encoding="utf-8")
    head, _, rest = page.partition(BEGIN)
    _, _, tail = rest.partition(END)
    new = head + BEGIN + tables() + END + tail
    if "--check" not in sys.argv[1:]:
        PAGE.write_text(new, encoding="utf-8")
    elif new != page:
        print("docs/guidelines.md is not current: run `make docs`", file=sys.stderr)
        return 1
    return 0


if __name__ == "__main__":
    sys.exit(main())
