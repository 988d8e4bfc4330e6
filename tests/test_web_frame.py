from __future__ import annotations

from tests.pages import Family, text


def test_a_stranger_is_asked_to_sign_in(home: Family) -> None:
    home.phone.logout()
    answer = home.phone.get("/")
    assert answer.status_code == 302
    assert answer.headers["Location"].startswith("/sign-in/")


def test_the_first_page_names_what_is_there(home: Family) -> None:
    home.expressed("KA34", 120, 3)
    assert "KA34" in text(home.see("/"))
