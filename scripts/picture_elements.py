"""Picture every element of the pages in light and dark, and have axe look for barriers; see docs/look.md."""

from __future__ import annotations

import math
import shutil
import sys
import tempfile
import threading
import time
from functools import partial
from http.server import SimpleHTTPRequestHandler, ThreadingHTTPServer
from pathlib import Path
from typing import Any, Literal

import django
import django_htmx
from axe_playwright_python.sync_playwright import Axe
from django.conf import settings
from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string
from django.urls import include, path
from playwright.sync_api import Browser, sync_playwright

from thawline.core.replay import moment
from thawline.core.times import HOUR, MINUTE
from thawline.faces.web.charts import Band, Chart, Limit, Mark, Series, Stretch, chart
from thawline.faces.words import words_for

ROOT = Path(__file__).resolve().parent.parent
FACE = ROOT / "src" / "thawline" / "faces" / "web"
PICTURES = ROOT / "docs" / "pictures"
CHROMIUM = "/usr/bin/chromium"
FLAGS = ["--no-sandbox", "--disable-gpu", "--disable-quic", "--no-first-run"]
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


def _nowhere(request: HttpRequest) -> HttpResponse:
    return HttpResponse()


_PLACES = ("now", "log", "stock", "history", "more", "who", "cautions")
urlpatterns = [path("", include(([path(f"{name}/", _nowhere, name=name) for name in _PLACES], "web")))]


def _milk(code: str, standing: str, word: str, **more: object) -> dict[str, Any]:
    return {"code": code, "standing": standing, "standing_word": word, "url": "#main", **more}


def _step(label: str, *, primary: bool = False) -> dict[str, Any]:
    return {"label": label, "url": "#main", "fields": [("do", label.lower())], "primary": primary}


_SOON = _milk(
    "RE37",
    "soon",
    "soon",
    ml_text="70 mL",
    form_word="fresh",
    place="kitchen counter",
    use_by_text="today 14:55",
    left_text="in 35 min",
    hint="then until Mon 15 Mar 10:55 if chilled in time",
    why="Out longest of what is open: 4 hours at room temperature.",
)
_FINE = _milk(
    "TA97",
    "fine",
    "within its limits",
    ml_text="95 mL",
    form_word="thawing",
    place="fridge",
    use_by_text="Fri 12 Mar 12:45",
    left_text="in 22 hours",
    estimated=True,
    hint="look for ice and note it: that settles the time",
)
_PAST = _milk(
    "HE77",
    "past",
    "past its limit",
    ml_text="40 mL",
    form_word="fresh",
    place="fridge",
    use_by_text="today 11:20",
    left_text="3 hours ago",
    hint="not to be fed",
)
_HELD = _milk(
    "RA99",
    "held",
    "held back",
    ml_text="55 mL",
    form_word="fresh",
    place="fridge",
    use_by_text="Sun 14 Mar 18:20",
)
_MILKS: list[dict[str, Any]] = [
    {"milk": _SOON, "steps": [_step("Into the fridge", primary=True), _step("Feed")]},
    {
        "milk": _milk(
            "KE44",
            "outside",
            "no time given: act now",
            ml_text="110 mL",
            form_word="fresh",
            place="cooler bag",
            use_by_text="today 13:40",
            hint="warmer than the guideline reckons with",
        ),
        "steps": [_step("Into the fridge"), _step("Feed")],
    },
    {"milk": _PAST, "steps": [_step("Discard")]},
    {"milk": _milk("SO33", "breached", "a rule was broken", ml_text="60 mL", form_word="thawed", place="freezer")},
    {"milk": _HELD},
    {"milk": _FINE},
    {
        "milk": _milk(
            "RA44",
            "fine",
            "within its limits",
            ml_text="1,100 mL",
            form_word="frozen",
            place="freezer in the cellar, left drawer",
            use_by_text="2 Mar 2028",
            left_text="in 11 months",
            best_by_text="2 Sep 2027",
            meant_for="Mila",
        )
    },
    {
        "milk": _milk(
            "ME99",
            "gone",
            "fed",
            ml_text="80 mL",
            form_word="fresh",
            place=None,
            use_by_text="today 10:05",
        )
    },
]
_WORDS = {
    "amount": "How much?",
    "left": "What is left?",
    "bad": ["A number, please: 70 or 7.5"],
    "since": "Since when?",
    "what": "What is it?",
    "child": "For whom?",
    "note": "A note",
    "note_hint": "Only your household reads it.",
    "note_says": "Milk from one day may be poured together once both are equally cold.",
    "warn_says": "RE37 has stood at room temperature since 10:55.",
    "stop_says": "HE77 is past its limit.",
    "stop_more": "In the refrigerator: 4 days from expression.",
    "empty": "Nothing is waiting.",
    "empty_more": "What you express shows up here, the most urgent first.",
    "empty_label": "Note what you pumped",
}


def _charts() -> list[Chart | None]:
    words = words_for("Europe/Lisbon", moment("2027-03-11T14:20:00+00:00"))
    fridge = [(words.now - 30 * HOUR + n * 5 * MINUTE, 3.4 + math.sin(n / 9)) for n in range(360)]
    fridge = [(at, c + 7 * math.exp(-(((at - words.now) / HOUR + 8) ** 2))) for at, c in fridge]
    hours = [n / 4 for n in range(81)]
    milk = [(h, 4 - 22 * math.exp(-h / 4)) for h in hours]
    low, high = [(h, 4 - 22 * math.exp(-h / 7)) for h in hours], [(h, 4 - 22 * math.exp(-h / 2)) for h in hours]
    gap: list[tuple[float, float | None]] = [*fridge[:60], (fridge[60][0], None), *fridge[90:]]
    return [
        chart(
            "recorded",
            "Fridge, recorded",
            unit="°C",
            series=[Series("Fridge", gap)],
            limits=[Limit("10 °C", 10), Limit("4 °C", 4)],
            stretches=[Stretch("above 4 °C for 2 h to 2 h 10 min", words.now - 9 * HOUR, words.now - 7 * HOUR)],
            marks=[Mark("out", words.now - 20 * HOUR)],
            words=words,
        ),
        chart(
            "estimate",
            "A flat bag thaws in the fridge, estimated",
            unit="°C",
            series=[Series("likely", milk), Series("the shelf", [(0, 4), (20, 4.4)])],
            bands=[Band("between early and late", low, high)],
            limits=[Limit("-0.5 °C, ice goes", -0.5)],
            marks=[Mark("early", 3.5), Mark("late", 14.5)],
        ),
    ]


def context() -> dict[str, Any]:
    """Everything that web/elements.html shows; all of it invented."""
    return {
        "charts": _charts(),
        "server_now_ms": int(time.time() * 1000),
        "household_name": "The Lindgarten home",
        "who": "Ana",
        "csrf_token": "made-up",
        "done": {"says": "70 mL noted as RE37.", "undo_url": "#main", "fields": [("event", "17")]},
        "next": _SOON,
        "next_steps": [_step("Feed this", primary=True), _step("Warm it")],
        "milks": _MILKS,
        "words": _WORDS,
        "problems": [{"says": "What is left? A number, please", "id": "left"}],
        "forms": [
            {"value": "fresh", "label": "Fresh", "says": "never frozen"},
            {"value": "frozen", "label": "Frozen", "says": "hard all through"},
        ],
        "children": [{"value": "mila", "label": "Mila"}, {"value": "jon", "label": "Jon"}],
        "places": [{"value": "fridge", "label": "Fridge"}, {"value": "freezer", "label": "Freezer in the cellar"}],
        "breach": {
            "says": "Milk that has thawed is not frozen again, says this guideline.",
            "source": "An invented guideline, edition 2027, storage table",
            "then": "If it was frozen all the same, note it: Thawline then shows that a rule was broken.",
            "fields": [("anyway", "1")],
        },
        "links": [
            {
                "says": "Freshly expressed, at room temperature: 4 hours.",
                "from_text": "today 10:55",
                "until_text": "today 14:55",
                "source": "An invented guideline, edition 2027",
                "mark": "read at the source",
            },
            {
                "says": "In the refrigerator: 4 days from expression.",
                "until_text": "Mon 15 Mar 10:55",
                "source": "An invented guideline, edition 2027",
                "mark": "second-hand",
            },
        ],
        "events": [
            {"at_text": "today 12:10", "says": "out of the fridge", "who": "Ana", "url": "#main"},
            {"at_text": "today 11:30", "says": "into the fridge", "who": "Grandpa", "estimated": True, "url": "#main"},
            {"at_text": "today 11:00", "says": "frozen", "who": "Ana", "voided": True},
            {"at_text": "today 10:55", "says": "expressed, 70 mL", "who": "Ana", "url": "#main"},
        ],
        "totals": [
            {"place": "Fridge", "ml_text": "365 mL", "share": 66, "says": "5 containers, first by today 14:55"},
            {"place": "Freezer", "ml_text": "550 mL", "share": 100, "says": "6 containers"},
            {"place": "Counter", "ml_text": "70 mL", "share": 13},
        ],
        "all_text": "985 mL",
        "picks": [
            _FINE | {"checked": True},
            _HELD,
            _PAST | {"barred": "past its limit: it can only be discarded"},
        ],
        "acts": [
            {"name": "do", "value": "freeze", "label": "Freeze them", "primary": True},
            {"name": "do", "value": "discard", "label": "Discard"},
        ],
        "rows": [
            {"n": 1, "code": "KE37", "ml": "90", "on": "2027-03-02", "place": "freezer"},
            {"n": 2, "code": "KE37", "ml": "", "on": "", "place": "", "errors": ["KE37 is taken: pick another code."]},
        ],
        "people": [
            {"id": 1, "name": "Ana", "current": True},
            {"id": 2, "name": "Grandpa"},
            {"id": 3, "name": "The childminder"},
        ],
    }


def lay_out(folder: Path, page: str) -> None:
    """Put the page and what it loads into a folder, as they would be served."""
    (folder / "index.html").write_text(page)
    shutil.copytree(FACE / "static", folder / "static")
    shutil.copytree(Path(django_htmx.__file__).parent / "static", folder / "static", dirs_exist_ok=True)


class Strict(SimpleHTTPRequestHandler):
    """Serve with the policy that the real pages have, so that what it forbids shows up here."""

    def end_headers(self) -> None:
        self.send_header("Content-Security-Policy", "default-src 'self'")
        super().end_headers()

    def log_request(self, code: int | str = "-", size: int | str = "-") -> None:
        """Say nothing of what went well."""


def look(
    browser: Browser, url: str, scheme: Literal["light", "dark"], folder: Path | None, width: int = 390
) -> list[str]:
    """Open the page as a phone would, picture it, and return what is wrong with it."""
    context = browser.new_context(viewport={"width": width, "height": 844}, color_scheme=scheme)
    page = context.new_page()
    wrong: list[str] = []
    page.on("console", lambda said: wrong.append(f"console: {said.text}") if said.type == "error" else None)
    page.on("pageerror", lambda error: wrong.append(f"script: {error}"))
    page.goto(url)
    page.wait_for_load_state("networkidle")
    too_wide = page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth")
    if too_wide:
        wrong.append(f"wider than the phone by {too_wide} px")
    if folder is not None:
        page.screenshot(path=folder / f"elements-first-{scheme}.png")
    # A window as tall as the page, so that the bar at the thumb stands at its end and covers nothing.
    page.set_viewport_size({"width": width, "height": page.evaluate("document.documentElement.scrollHeight")})
    if folder is not None:
        page.screenshot(path=folder / f"elements-{scheme}.png")
    found = Axe().run(page, options={"runOnly": RULES})
    for violation in found.response["violations"]:
        wrong += [f"axe {violation['id']}: {node['html'][:150]}" for node in violation["nodes"]]
    context.close()
    return [f"{scheme} {width}: {one}" for one in wrong]


def main() -> int:
    """Write both pictures; the number of complaints is the answer."""
    settings.configure(
        ROOT_URLCONF=__name__,
        INSTALLED_APPS=["django.contrib.staticfiles", "django_htmx"],
        TEMPLATES=[
            {
                "BACKEND": "django.template.backends.django.DjangoTemplates",
                "DIRS": [FACE / "templates"],
                "APP_DIRS": True,
            }
        ],
        STATIC_URL="/static/",
        USE_I18N=True,
        USE_TZ=True,
        LANGUAGE_CODE="en-gb",
    )
    django.setup()
    PICTURES.mkdir(parents=True, exist_ok=True)
    with tempfile.TemporaryDirectory() as name:
        lay_out(Path(name), render_to_string("web/elements.html", context()))
        server = ThreadingHTTPServer(("127.0.0.1", 0), partial(Strict, directory=name))
        threading.Thread(target=server.serve_forever, daemon=True).start()
        url = f"http://127.0.0.1:{server.server_port}/"
        with sync_playwright() as play:
            browser = play.chromium.launch(executable_path=CHROMIUM, args=FLAGS)
            wrong = look(browser, url, "light", PICTURES) + look(browser, url, "dark", PICTURES)
            wrong += look(browser, url, "light", None, width=320)
            browser.close()
        server.shutdown()
    for one in wrong:
        print(one)
    print(f"{len(wrong)} complaints")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main())
