"""A guideline is one data file: a new one needs nothing else, a bad one is told what to mend."""

from __future__ import annotations

import contextlib
import random
import tomllib
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given
from hypothesis import settings as profile
from hypothesis import strategies as st
from tests.cli_tools import DOCS, FILES, event, expressed, judged, one, replay, settings, thawline, unreadable

from thawline.core import guideline

HEAD = """id = "trial"
name = "Trial guideline"
role = "home"
publisher = "Nobody"
title = "A trial"
edition = "1"
about = "For this test."
"""
LIMIT = """
[[limit]]
id = "trial.fresh_room"
situation = ["fresh_room"]
starts = "expressed"
runs = "stay"
allows = "3 hours"
grade = "use"
mark = "ours"
says = "Three hours at room temperature."
place = "page 1"
"""
BAN = """
[[ban]]
act = "microwave"
mark = "ours"
says = "No microwave."
"""
ADVICE = """
[[advice]]
id = "trial.label"
says = "Label it."
mark = "ours"
"""
GOOD = HEAD + LIMIT + BAN + ADVICE


def check(folder: Path, text: str | bytes) -> str:
    """What is said about a bad file: the same by `guidelines check` and by `replay`."""
    file = folder / "trial.toml"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    said = unreadable(thawline("guidelines", "check", str(file)))
    assert str(file) in said
    for flag in ("--guideline", "--also"):
        again = unreadable(replay(folder, [*settings(), expressed()], flag, str(file)))
        assert again.split(": ", 1)[1] == said.split(": ", 1)[1]
    return said


def test_a_good_file_passes(tmp_path: Path) -> None:
    file = tmp_path / "trial.toml"
    file.write_text(GOOD)
    ran = thawline("guidelines", "check", str(file))
    assert (ran.code, ran.out, ran.err) == (0, "trial: 1 limits, 1 bans: can be used\n", "")


@pytest.mark.parametrize("key", ["id", "name", "role", "publisher", "title", "edition", "about"])
def test_a_hole_in_the_head(key: str, tmp_path: Path) -> None:
    text = "\n".join(line for line in HEAD.splitlines() if not line.startswith(key)) + LIMIT
    assert f"the file: {key} is missing: write {key} =" in check(tmp_path, text)


@pytest.mark.parametrize("key", ["id", "starts", "runs", "allows", "grade", "mark", "says"])
def test_a_hole_in_a_limit(key: str, tmp_path: Path) -> None:
    text = HEAD + "\n".join(line for line in LIMIT.splitlines() if not line.startswith(f"{key} ="))
    said = check(tmp_path, text)
    assert f"{key} is missing: write {key} =" in said
    assert ("limit 1" if key == "id" else "limit trial.fresh_room") in said


CHANGES = {
    "empty": (GOOD, "", "is missing"),
    "no limit": (LIMIT, "", "at least one [[limit]]"),
    "no situation": ('situation = ["fresh_room"]\n', "", "situation must be a list of words"),
    "wrong role": ('role = "home"', 'role = "boss"', "role is 'boss': choose one of home, childcare, care_team"),
    "the house's role": ('role = "home"', 'role = "house"', "choose one of home, childcare, care_team"),
    "bad id": ('id = "trial"', 'id = "Trial 1"', "id"),
    "id is a number": ('id = "trial"', "id = 5", "the file: id is missing"),
    "id of another": ('id = "trial.fresh_room"', 'id = "cdc.fresh_room"', "id must begin with trial."),
    "wrong situation": ('["fresh_room"]', '["fresh_attic"]', "situation has 'fresh_attic': choose from fresh_room"),
    "situation is a word": ('["fresh_room"]', '"fresh_room"', "situation must be a list of words"),
    "situation of numbers": ('["fresh_room"]', "[1, 2]", "situation must be a list of words"),
    "deep situation": ('["fresh_room"]', '[["fresh_room"]]', "situation must be a list of words"),
    "wrong start": ('"expressed"', '"sunrise"', "starts is 'sunrise': choose one of expressed"),
    "wrong run": ('"stay"', '"walk"', "runs is 'walk': choose one of stay, on"),
    "wrong unit": ('"3 hours"', '"3 moons"', "'3 moons' is not a duration: write a whole number and minutes"),
    "no unit": ('"3 hours"', '"3"', "is not a duration"),
    "half": ('"3 hours"', '"3.5 hours"', "is not a duration"),
    "negative": ('"3 hours"', '"-3 hours"', "is not a duration"),
    "endless": ('"3 hours"', '"99999 months"', "is not a duration"),
    "superscript": ('"3 hours"', '"³ hours"', "allows"),
    "allows is a number": ('"3 hours"', "3", "allows is missing"),
    "wrong grade": ('"use"', '"nice"', "grade is 'nice': choose one of use, best"),
    "wrong mark": ('"ours"\nsays = "Three', '"sure"\nsays = "Three', "mark is 'sure': choose one of seen"),
    "says nothing": ('"Three hours at room temperature."', '"  "', "says is missing"),
    "unknown field": ('place = "page 1"', 'page = "1"', "'page' is not a field: mend its name or take it out"),
    "unknown field of the file": ('name = "Trial', 'parent = "cdc"\nname = "Trial', "'parent' is not a field"),
    "wrong act": ('act = "microwave"', 'act = "juggle"', "act is 'juggle': choose one of refreeze"),
    "unknown field of a ban": ('act = "microwave"', 'act = "microwave"\nfine = 5', "ban microwave: 'fine'"),
    "unknown field of advice": ('id = "trial.label"', 'id = "trial.label"\nx = 1', "advice trial.label: 'x'"),
    "limits twice": (LIMIT, LIMIT + LIMIT, "limit trial.fresh_room: the id stands twice"),
    "bans twice": (BAN, BAN + BAN, "ban microwave: the act stands twice"),
    "advice twice": (ADVICE, ADVICE + ADVICE, "advice trial.label: the id stands twice"),
    "limit is a table": ("[[limit]]", "[limit]", "limit: write each as [[limit]]"),
    "limit is a number": (GOOD, HEAD + "limit = 5", "limit: write each as [[limit]]"),
    "limit of numbers": (GOOD, HEAD + "limit = [1]", "limit: write each as [[limit]]"),
    "ban is a table": ("[[ban]]", "[ban]", "ban: write each as [[ban]]"),
    "when is a word": ('place = "page 1"', 'when = "always"', "when must be a table"),
    "unknown condition": ('place = "page 1"', "when = { moon = 1 }", "'moon' is not a field"),
    "wrong kind": ('place = "page 1"', 'when = { kind = ["attic"] }', "kind has 'attic': choose from room"),
    "wrong band": ('place = "page 1"', "when = { band = 4 }", "band must name a place kind"),
    "band of an attic": ('place = "page 1"', 'when = { band = { attic = "4 C" } }', "band names 'attic'"),
    "band in kelvin": ('place = "page 1"', 'when = { band = { room = "4 K" } }', 'write "4 C" or "40 F"'),
    "band is a number": ('place = "page 1"', "when = { band = { room = 4 } }", 'write "4 C" or "40 F"'),
    "band is not a number": ('place = "page 1"', 'when = { band = { room = "nan C" } }', 'write "4 C" or "40 F"'),
    "band without end": ('place = "page 1"', 'when = { above = { room = "-inf C" } }', 'write "4 C" or "40 F"'),
    "known is a word": ('place = "page 1"', 'when = { known = "yes" }', "known is true or false"),
    "wrong handling": ('place = "page 1"', 'when = { handling = "clean" }', 'handling is "very_clean"'),
    "wrong milk": ('place = "page 1"', 'when = { milk = ["oat"] }', "milk has 'oat': choose from own, donor"),
    "wrong addition": ('place = "page 1"', 'when = { added = ["sugar"] }', "added has 'sugar'"),
    "key twice": ('role = "home"', 'role = "home"\nrole = "home"', "not TOML"),
    "endless number": ('role = "home"', "role = " + "1" * 5000, "not TOML"),
    "a date that is none": ('role = "home"', "role = 2026-02-30", "not TOML"),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_a_bad_file_is_told_row_field_and_mend(name: str, tmp_path: Path) -> None:
    old, new, says = CHANGES[name]
    assert GOOD.count(old) >= 1
    assert says in check(tmp_path, GOOD.replace(old, new, 1))


NO_TOML = {
    "JSON": b'{"id": "trial"}',
    "prose": b"Keep it four days.",
    "deep": b"x = " + b"[" * 100_000,
    "deep and closed": b"x = " + b"[" * 5000 + b"]" * 5000,
    "deep tables": b"x = " + b"{a=" * 5000,
    "deep keys": b".".join([b"a"] * 5000) + b" = 1",
    "NUL": b"id = \0",
    "UTF-16": GOOD.encode("utf-16"),
    "Latin-1": GOOD.replace("Nobody", "Crème").encode("latin-1"),
    "noise": random.Random(2).randbytes(1_000_000),
}


@pytest.mark.parametrize("name", NO_TOML)
def test_what_is_no_toml(name: str, tmp_path: Path) -> None:
    said = check(tmp_path, NO_TOML[name])
    assert len(said) < 600


@pytest.mark.parametrize("raw", [b"\xef\xbb\xbf" + GOOD.encode(), GOOD.replace("\n", "\r\n").encode()])
def test_what_editors_do_to_a_file_changes_nothing(raw: bytes, tmp_path: Path) -> None:
    file = tmp_path / "trial.toml"
    file.write_bytes(raw)
    assert thawline("guidelines", "check", str(file)).code == 0


def test_files_that_cannot_be_opened(tmp_path: Path) -> None:
    for name in (str(tmp_path), str(tmp_path / "none.toml"), "a\0b.toml", ""):
        unreadable(thawline("guidelines", "check", name))
    unreadable(replay(tmp_path, settings(), "--guideline", str(tmp_path / "none.toml")))
    unreadable(replay(tmp_path, settings(), "--guideline", str(tmp_path)))


calm = profile(deadline=None, max_examples=150, suppress_health_check=[HealthCheck.too_slow])


@given(st.text(max_size=300))
@calm
def test_fuzz_any_text(text: str) -> None:
    with pytest.raises(guideline.GuidelineError):
        guideline.parse(text)


@given(st.data())
@calm
def test_fuzz_mutated_file(data: st.DataObject) -> None:
    text = (FILES / "cdc.toml").read_text()
    for _ in range(data.draw(st.integers(1, 4))):
        at = data.draw(st.integers(0, len(text) - 1))
        text = text[:at] + data.draw(st.text(max_size=6)) + text[at + data.draw(st.integers(0, 12)) :]
    with contextlib.suppress(guideline.GuidelineError):
        assert guideline.parse(text).rows


# ---- a new guideline --------------------------------------------------------------------------------------


def test_a_new_guideline_is_one_file_and_nothing_else(tmp_path: Path) -> None:
    file = tmp_path / "trial.toml"
    file.write_text(GOOD)
    warmed = event("w", "08:30", "warmed", container="B", how="microwave")
    story = [*settings(), expressed(), expressed("f", "08:10", "B", 50), warmed]
    found = judged(tmp_path, story, "--guideline", str(file), now="2026-05-06T09:00:00Z")
    assert (found["guideline"], found["also"]) == ("trial", [])
    first = one(found, "A")
    assert first["use_by"] == "2026-05-06T11:00:00+00:00"
    assert first["why"][0]["rule"] == "trial.fresh_room"
    assert first["why"][0]["says"] == "Three hours at room temperature."
    assert first["why"][0]["source"] == "Nobody, A trial, 1, page 1"
    assert first["why"][0]["mark"] == "ours"
    assert "trial.microwave" in {breach["rule"] for breach in one(found, "B")["breaches"]}
    shown = thawline("guidelines", "show", str(file))
    assert shown.code == 0 and "trial.fresh_room: 3 hours (use, ours)" in shown.out


def test_a_file_copied_under_another_id_judges_as_the_shipped_one(tmp_path: Path) -> None:
    text = (FILES / "abm.toml").read_text().replace('"abm', '"copy')
    file = tmp_path / "copy.toml"
    file.write_text(text)
    story = [*settings(), expressed(), event("m", "09:00", "moved", container="A", to="fridge")]
    copied = judged(tmp_path, story, "--guideline", str(file))
    shipped = judged(tmp_path, story, "--guideline", "abm")
    assert one(copied)["use_by"] == one(shipped)["use_by"]
    assert one(copied)["why"][0]["rule"].removeprefix("copy.") == one(shipped)["why"][0]["rule"].removeprefix("abm.")


def test_where_a_home_file_is_silent_the_gap_is_named(tmp_path: Path) -> None:
    file = tmp_path / "trial.toml"
    file.write_text(GOOD)
    story = [*settings(), expressed(), event("m", "09:00", "moved", container="A", to="fridge")]
    found = one(judged(tmp_path, story, "--guideline", str(file)))
    assert found["standing"] == "fine"
    assert found["use_by"] == "2026-05-10T08:00:00+00:00"  # CDC: 4 days
    assert found["why"][0]["rule"] == "cdc.fresh_refrigerator"


def test_a_path_needs_no_slash_and_no_suffix(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    (tmp_path / "ours").write_text(GOOD)
    monkeypatch.chdir(tmp_path)
    assert judged(tmp_path, [*settings(), expressed()], "--guideline", "ours")["guideline"] == "trial"


def test_every_shipped_file_passes_its_own_check() -> None:
    for file in sorted(FILES.glob("*.toml")):
        if file.stem == "house":
            continue
        ran = thawline("guidelines", "check", str(file))
        assert (ran.code, ran.err) == (0, ""), file.name
        assert ran.out.startswith(f"{file.stem}: ")


def test_the_example_in_the_document_can_be_used(tmp_path: Path) -> None:
    text = (DOCS / "guideline-file.md").read_text().split("```toml\n")[1].split("```")[0]
    file = tmp_path / "example.toml"
    file.write_text(text)
    assert thawline("guidelines", "check", str(file)).code == 0


# ---- the care team's file ---------------------------------------------------------------------------------


def care_team(folder: Path, **figures: str) -> str:
    """The template, with figures written over its blanks."""
    lines = []
    rule = ""
    for line in (DOCS / "care-team-template.toml").read_text().splitlines():
        rule = line.split('"')[1].partition(".")[2] if line.startswith('id = "from-our-care-team.') else rule
        blank = line.startswith("allows") and rule in figures
        lines.append(f'allows = "{figures[rule]}"' if blank else line)
    file = folder / "team.toml"
    file.write_text("\n".join(lines))
    assert set(figures) <= {limit["id"].partition(".")[2] for limit in tomllib.loads(file.read_text())["limit"]}
    return str(file)


HOSPITAL = event("c", "2026-01-01T00:00:00Z", "child", child="mia", born="2026-01-02", care="hospital")


def hospital_story(*more: dict[str, object]) -> list[dict[str, object]]:
    return [*(one for one in settings() if one["id"] != "c"), HOSPITAL, expressed(place="fridge"), *more]


@pytest.mark.parametrize("chosen", [[], ["--guideline", "abm"], ["--also", "us-or"]])
def test_for_a_hospital_child_no_home_limit_is_shown(chosen: list[str], tmp_path: Path) -> None:
    ran = replay(tmp_path, hospital_story(), *chosen)
    found = one(ran.json())
    assert (found["use_by"], found["best_by"], found["options"]) == (None, None, [])
    assert found["standing"] == "outside"
    for limit in ("4 days", "cdc.", "abm."):
        assert limit not in str(found["why"])


def test_the_hospital_rule_goes_by_whom_the_milk_is_for(tmp_path: Path) -> None:
    ben = event("c2", "2026-01-01T00:00:00Z", "child", child="ben", born="2025-01-02", care="home")
    story = hospital_story(
        ben,
        expressed("f", "08:01", "B", place="fridge", for_="mia"),
        expressed("g", "08:02", "C", place="fridge", for_="ben"),
    )
    found = judged(tmp_path, story)
    assert one(found, "B")["use_by"] is None
    assert one(found, "C")["use_by"] == "2026-05-10T08:02:00+00:00"


def test_only_the_care_teams_file_speaks_for_a_hospital_child(tmp_path: Path) -> None:
    file = care_team(tmp_path, fresh_refrigerator="48 hours", fresh_room="1 hour")
    found = judged(tmp_path, hospital_story(expressed("f", "11:30", "B")), "--guideline", file)
    assert found["guideline"] == "from-our-care-team"
    assert one(found, "A")["use_by"] == "2026-05-08T08:00:00+00:00"
    assert one(found, "A")["why"][0]["rule"] == "from-our-care-team.fresh_refrigerator"
    assert one(found, "B")["use_by"] == "2026-05-06T12:30:00+00:00"
    board = thawline("replay", str(tmp_path / "ledger.ndjson"), "--now", "2026-05-06T12:00:00Z", "--guideline", file)
    assert "From our care team" in board.out


def test_the_blank_template_keeps_nothing(tmp_path: Path) -> None:
    file = care_team(tmp_path)
    assert thawline("guidelines", "check", file).code == 0
    story = hospital_story(expressed("f", "08:00", "B"), expressed("g", "08:00", "C", place="cooler"))
    for container in judged(tmp_path, story, "--guideline", file)["containers"]:
        assert container["standing"] in {"past", "outside", "breached"}
        assert container["use_by"] <= "2026-05-06T08:00:00+00:00"


def test_what_the_care_teams_file_does_not_say_is_outside(tmp_path: Path) -> None:
    file = tmp_path / "team.toml"
    file.write_text(GOOD.replace('role = "home"', 'role = "care_team"'))
    found = one(judged(tmp_path, hospital_story(), "--guideline", str(file)))
    assert found["standing"] == "outside"
    assert "cdc" not in str(found["why"])


def test_a_row_for_fortified_milk_says_nothing_of_plain_milk(tmp_path: Path) -> None:
    file = care_team(tmp_path, fresh_refrigerator_fortified="24 hours", fresh_refrigerator="48 hours")
    found = one(judged(tmp_path, hospital_story(), "--guideline", file))
    assert found["use_by"] == "2026-05-08T08:00:00+00:00"


def test_fortified_milk_has_only_the_care_teams_figure(tmp_path: Path) -> None:
    added = event("a", "08:05", "added", container="A", what="fortifier")
    file = care_team(tmp_path, fresh_refrigerator="48 hours", fresh_refrigerator_fortified="24 hours")
    found = one(judged(tmp_path, hospital_story(added), "--guideline", file))
    assert found["use_by"] == "2026-05-07T08:00:00+00:00"
    home = one(judged(tmp_path, [*settings(), expressed(place="fridge"), added]))
    assert home["standing"] == "outside"


# ---- overlays ---------------------------------------------------------------------------------------------


def frozen(name: str = "A", on: str = "2026-01-10") -> dict[str, object]:
    return event("s", on, "stocked", container=name, ml=90, place="freezer", expressed=on, frozen_on=on)


def test_of_two_guidelines_the_earlier_deadline_counts_and_both_are_named(tmp_path: Path) -> None:
    home = one(judged(tmp_path, [*settings(), frozen()]))
    both = judged(tmp_path, [*settings(), frozen()], "--also", "us-or")
    assert (both["guideline"], both["also"]) == ("cdc", ["us-or"])
    assert home["use_by"][:10] == "2027-01-10"  # CDC: 12 months
    assert one(both)["use_by"][:10] == "2026-07-10"  # Oregon: 6 months
    rules = [link["rule"] for link in one(both)["why"]]
    assert rules[0] == "us-or.freezer"
    assert any(rule.startswith("cdc.") for rule in rules)


def test_an_overlay_never_lengthens_and_its_silence_leaves_the_home_figure(tmp_path: Path) -> None:
    story = [*settings(), expressed(place="fridge")]
    assert one(judged(tmp_path, story, "--also", "us-or"))["use_by"] == one(judged(tmp_path, story))["use_by"]
    lax = tmp_path / "lax.toml"
    lax.write_text(GOOD.replace('role = "home"', 'role = "childcare"').replace("3 hours", "90 hours"))
    story = [*settings(), expressed()]
    assert one(judged(tmp_path, story, "--also", str(lax)))["use_by"] == "2026-05-06T12:00:00+00:00"


def test_a_ban_of_either_is_a_breach(tmp_path: Path) -> None:
    warm = event("w", "09:00", "warmed", container="A", how="warm_water")
    again = event("w2", "09:30", "warmed", container="A", how="warm_water")
    story = [*settings(), expressed(place="fridge"), warm, again]
    assert "us-or.rewarm" not in {breach["rule"] for breach in one(judged(tmp_path, story))["breaches"]}
    found = one(judged(tmp_path, story, "--also", "us-or"))
    assert "us-or.rewarm" in {breach["rule"] for breach in found["breaches"]}
    assert found["standing"] == "breached"


def test_several_overlays_and_the_households_own(tmp_path: Path) -> None:
    house = event("h2", "2026-02-01T00:00:00Z", "household", zone="UTC", guideline="abm", also=["us-or", "us-wa"])
    own = judged(tmp_path, [*settings(house), expressed()])
    assert (own["guideline"], own["also"]) == ("abm", ["us-or", "us-wa"])
    given = judged(tmp_path, [*settings(house), expressed()], "--guideline", "cdc", "--also", "au-tas")
    assert (given["guideline"], given["also"]) == ("cdc", ["au-tas"])
