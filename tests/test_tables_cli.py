"""Tables, papers and the health record at the command line, as installed: what is said and kept, which status."""

from __future__ import annotations

import csv
import io
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from fhir.resources.bundle import Bundle
from tests.test_cli_site import Home

from thawline.core.replay import moment
from thawline.services.demo import demo_ledger

pytestmark = pytest.mark.slow
NOW = "2026-03-11T14:20:00+00:00"
TABLE = "Datum;Uhrzeit;Menge\n3/1/2026;07:10;90,5\n13/1/2026;07:10;100\n"


@pytest.fixture
def home(tmp_path: Path) -> Home:
    """A household with the invented family's ledger."""
    made = Home(tmp_path / "home")
    made.begin("owl-lantern-river")
    lines = b"\n".join(demo_ledger(now=moment(NOW)))
    assert made.run("import", "-", stdin=lines).code == 0
    return made


def table(home: Home, name: str, **more: str) -> list[dict[str, str]]:
    options = [part for key, value in more.items() for part in (f"--{key}", value)]
    out = home.run("export", "--table", name, *options)
    assert out.code == 0, out.err
    return list(csv.DictReader(io.StringIO(out.out, newline="")))


def test_a_table_is_looked_at_kept_once_and_comes_out_again(home: Home, tmp_path: Path) -> None:
    file = tmp_path / "sessions.csv"
    file.write_bytes(TABLE.encode("cp1252"))
    before = len(table(home, "events"))
    dry = home.run("import", str(file), "--table", "sessions", "--dry-run")
    assert (dry.code, "2 rows would be recorded, nothing was" in dry.out) == (0, True)
    assert "tells that the day stands first" in dry.err and "190.5 mL, 2026-01-03 to 2026-01-13" in dry.out
    assert len(table(home, "events")) == before
    assert "2 rows recorded" in home.run("import", str(file), "--table", "sessions").out
    again = json.loads(home.run("import", str(file), "--table", "sessions", "--json").out)
    assert (again["recorded"], again["known"]) == (0, 2)
    days = table(home, "sessions", **{"from": "2026-01-03", "to": "2026-01-13"})
    assert [row["ml"] for row in days] == ["90.5", "100"]
    whole = home.run("export", "--table", "sessions", "--bom").out
    assert whole.startswith("\ufeffat,date")
    assert "0 rows recorded" in home.run("import", "-", "--table", "sessions", stdin=whole.encode()).out


def test_what_is_unclear_ends_with_one_line_that_says_what_to_give(home: Home) -> None:
    asked = home.run("import", "-", "--table", "sessions", stdin=b"date,time,ml\n3/1/2026,07:10,90\n")
    assert asked.code == 2 and "--order day or --order month" in asked.err
    fine = home.run(
        "import", "-", "--table", "sessions", "--order", "month", stdin=b"date,time,ml\n3/1/2026,07:10,90\n"
    )
    assert fine.code == 0 and "1 row recorded (" in fine.out
    named = home.run(
        "import", "-", "--table", "sessions", "--column", "date=2", "--column", "amount=b", "--unit", "fl_oz",
        "--here", "--place", "freezer", "--json", stdin=b"b,c\n4,2026-03-01\n",
    )  # fmt: skip
    assert json.loads(named.out)["ml"] == 118.3


@pytest.mark.parametrize(
    "arguments",
    [
        ("import", "-", "--table", "feeds"), ("import", "-", "--table", "sessions", "--order", "week"),
        ("import", "-", "--table", "sessions", "--column", "date=Z"), ("import", "-", "--table", "stock", "--new", "x"),
        ("import", "-", "--table", "sessions", "--column", "what=1"),
        ("import", "-", "--table", "stock", "--place", "x"),
        ("export", "--table", "milk"), ("export", "--table", "feeds", "--from", "x"),
        ("export", "--table", "feeds", "--fhir"), ("sheets", "bank-log", "--which", "all", "-o", "x.pdf"),
        ("sheets", "summary", "--paper", "a3", "-o", "x.pdf"),
    ],
)  # fmt: skip
def test_a_bad_option_is_one_line_and_status_2(home: Home, arguments: tuple[str, ...]) -> None:
    found = home.run(*arguments, stdin=b"date,time,ml,place\n2026-01-03,07:10,90,fridge\n")
    assert found.code == 2 and len(found.err.strip().splitlines()) == 1, found.err
    assert found.err.startswith("thawline: ")


def test_rows_to_mend_are_listed_and_left_out_when_asked(home: Home) -> None:
    data = (TABLE + "x;07:10;5\n").encode()
    bad = home.run("import", "-", "--table", "sessions", stdin=data)
    assert bad.code == 1 and "line 4, Datum: “x” is no clear day" in bad.err and "--leave-out" in bad.err
    assert "nothing was" in bad.out
    taken = home.run("import", "-", "--table", "sessions", "--leave-out", stdin=data)
    assert taken.code == 1 and "2 rows recorded" in taken.out


def test_papers_and_the_health_record_are_written_to_files(home: Home, tmp_path: Path) -> None:
    made: dict[str, Callable[[bytes], Any]] = {
        "s.pdf": lambda data: data.startswith(b"%PDF-"), "b.pdf": lambda data: data.startswith(b"%PDF-"),
        "f.json": lambda data: Bundle.model_validate_json(data).entry,
    }  # fmt: skip
    commands = {
        "s.pdf": ("sheets", "summary", "--days", "7", "--names", "--paper", "letter"),
        "b.pdf": ("sheets", "bank-log", "--which", "there"),
        "f.json": ("export", "--fhir", "--names"),
    }
    for name, arguments in commands.items():
        file = tmp_path / name
        assert home.run(*arguments, "-o", str(file)).code == 0
        assert made[name](file.read_bytes())
        assert home.run(*arguments, "-o", str(file)).code == 2
        assert home.run(*arguments, "-o", str(file), "--force").code == 0
