"""The day's hand-over sheet for a childcare service, as PDF."""

from __future__ import annotations

import io
from collections.abc import Iterator
from html import escape
from typing import Any

import segno
from django.http import Http404, HttpResponse
from django.urls import path
from django.utils.translation import get_language
from django.utils.translation import gettext as _
from django.views.decorators.http import require_GET
from reportlab.lib.colors import black, white
from reportlab.lib.enums import TA_LEFT
from reportlab.lib.pagesizes import A4, LETTER
from reportlab.lib.styles import ParagraphStyle
from reportlab.lib.units import mm
from reportlab.pdfgen.canvas import Canvas
from reportlab.platypus import CondPageBreak, Flowable, KeepTogether, Paragraph, SimpleDocTemplate, Spacer, Table

from thawline.faces.handing import Handing, Row, Section, counted_word, handing
from thawline.faces.request import Request
from thawline.faces.sheets import fonts
from thawline.services import childcare, labels
from thawline.services.board import manners
from thawline.services.childcare import ServiceNow

PAPERS: dict[str, tuple[float, float]] = {"a4": A4, "letter": LETTER}
_MARGIN = 14 * mm
_QR = 22 * mm
# The zones in which paper is Letter; everywhere else A4.
_LETTER_ZONES = ("America/", "US/", "Canada/", "Pacific/Honolulu")


def _style(size: float, *, bold: bool = False, after: float = 2) -> ParagraphStyle:
    return ParagraphStyle(
        f"{size}{bold}", fontName=fonts.BOLD if bold else fonts.REGULAR, fontSize=size, leading=size * 1.28,
        spaceAfter=after, textColor=black, alignment=TA_LEFT, splitLongWords=1, wordWrap=None,
    )  # fmt: skip


TITLE, HEAD, CODE, BIG, BODY, SMALL = (
    _style(20, bold=True), _style(11.5, bold=True, after=1), _style(24, bold=True, after=0), _style(13, after=1),
    _style(10, after=1.5), _style(8, after=1),
)  # fmt: skip


class Code(Flowable):  # type: ignore[misc]  # the library ships no types
    """A QR code, drawn square by square; black on white."""

    def __init__(self, address: str, side: float) -> None:
        super().__init__()
        self.matrix = [list(row) for row in segno.make(address, error="m", micro=False).matrix_iter(border=4)]
        self.width = self.height = side

    def wrap(self, _wide: float, _high: float) -> tuple[float, float]:
        """How much room it takes, in points."""
        return self.width, self.height

    def draw(self) -> None:
        """Draw it."""
        step = self.width / len(self.matrix)
        canvas: Canvas = self.canv
        canvas.setFillColor(white)
        canvas.rect(0, 0, self.width, self.height, stroke=0, fill=1)
        canvas.setFillColor(black)
        for down, row in enumerate(self.matrix):
            for across, dark in enumerate(row):
                if dark:
                    canvas.rect(across * step, self.height - (down + 1) * step, step, step, stroke=0, fill=1)


def _text(says: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(escape(fonts.plain(says), quote=False), style)


def _pair(what: str, value: str, style: ParagraphStyle) -> Paragraph:
    return Paragraph(f"{escape(fonts.plain(what))} <b>{escape(fonts.plain(value))}</b>", style)


_BLANK = "_" * 24


def _lines(row: Row) -> Iterator[Paragraph]:
    """What is said of a container."""
    yield _text(f"{row.code} · {row.ml}", CODE)
    if row.child:
        yield _text(row.child, _style(13, bold=True))
    elif not row.name_line:
        yield _text(f"{_('For which child:')} {_BLANK}", BODY)
    if row.name_line:
        yield _text(f"{_('Full name:')} {_BLANK}", BODY)
    if row.until:
        yield Paragraph(f"{escape(_('Use by'))} <b>{escape(fonts.plain(row.until))}</b> · {escape(row.form)}", BIG)
        if row.stays:
            yield _text(row.stays, BODY)
    else:
        yield _pair(f"{row.form} ·", row.standing, BIG)
    if row.by:
        yield _text(_("by %(rule)s: %(says)s") % {"rule": row.by, "says": row.says}, SMALL)
    elif row.says:
        yield _text(row.says, SMALL)
    if row.then:
        yield _text(row.then, BODY)
    dates = [f"{escape(fonts.plain(what))}: <b>{escape(fonts.plain(at or '_' * 14))}</b>" for what, at in row.dates]
    yield Paragraph(" · ".join(dates), BODY)


def _row(row: Row, width: float) -> Flowable:
    table = Table([[list(_lines(row)), Code(row.address, _QR)]], colWidths=[width - _QR - 4 * mm, _QR + 4 * mm])
    table.setStyle(
        [
            ("VALIGN", (0, 0), (-1, -1), "TOP"), ("LINEBELOW", (0, 0), (-1, -1), 0.8, black),
            ("LEFTPADDING", (0, 0), (-1, -1), 0), ("RIGHTPADDING", (0, 0), (-1, -1), 4),
            ("TOPPADDING", (0, 0), (-1, -1), 4), ("BOTTOMPADDING", (0, 0), (-1, -1), 4),
        ]
    )  # fmt: skip
    return table


def _section(one: Section) -> list[Flowable]:
    said = [
        Paragraph(f"· {escape(fonts.plain(says))} <font size=7>[{source}]</font>", BODY) for says, source in one.lines
    ]
    return [KeepTogether([_text(one.title, HEAD), *said[:1]]), *said[1:], Spacer(1, 3)]


def _record(sheet: Handing, width: float) -> list[Flowable]:
    """Lines to write on: the codes that are there stand already."""
    heads = [_("Code"), _("Time"), _("Given"), _("Left"), _("What became of it"), _("Initials")]
    codes = [row.code for row in sheet.rows] + [""] * (sheet.write - len(sheet.rows))
    rows: list[list[Any]] = [[_text(one, SMALL) for one in heads]]
    bold = _style(11, bold=True, after=0)
    rows += [[_text(code, bold), "", "", "", "", ""] for code in codes]
    shares = (0.2, 0.13, 0.13, 0.13, 0.27, 0.14)
    table = Table(
        rows, colWidths=[width * share for share in shares], repeatRows=1, minRowHeights=[0, *[24] * len(codes)]
    )
    table.setStyle([("GRID", (0, 0), (-1, -1), 0.5, black), ("VALIGN", (0, 0), (-1, -1), "MIDDLE")])
    return [CondPageBreak(40 * mm), _text(_("The day's record"), HEAD), table, Spacer(1, 6)]


def _head(sheet: Handing) -> Iterator[Flowable]:
    yield _text(_("Milk for %(service)s") % {"service": sheet.service.name}, TITLE)
    facts = [sheet.household, counted_word(sheet.rows), _("as of %(at)s") % {"at": sheet.printed}]
    if sheet.service.closes:
        facts.append(_("closes %(at)s") % {"at": sheet.service.closes})
    yield _text(" · ".join(facts), BODY)
    yield _pair(_("Call the parents first:"), sheet.service.calls or _BLANK, BIG)
    if sheet.clock_wrong:
        yield _text(_("The Thawline computer's clock was wrong when this was made: do not go by its times."), HEAD)
    for child in sheet.hospital:
        says = _("%(child)s is under a hospital's care: follow the care team.") % {"child": child}
        yield _text(says, _style(11, bold=True))
    yield Spacer(1, 4)


def _foot(sheet: Handing) -> Iterator[Flowable]:
    if sheet.rule:
        says = _("The stricter of both counts: the family's guideline and the %(rule)s (%(source)s).") % {
            "rule": sheet.rule, "source": sheet.rule_source}  # fmt: skip
    else:
        says = _("No rule of the service is chosen: the times are those of the family's guideline. "
                 "Ask the service for its rule.")  # fmt: skip
    sources = "; ".join(f"[{number}] {source}" for number, source in enumerate(sheet.sources, 1))
    yield _text(f"{_('Sources:')} {sources}.", SMALL)
    yield _text(says, SMALL)
    yield _text(" ".join(f"{name}: {source}." for name, source in sheet.guidelines), SMALL)
    yield _text(_("A time is a ceiling, not a promise: sooner is better. Local rules come first. When unsure, do not "
                  "feed it: call."), SMALL)  # fmt: skip
    yield _text(_("Advice by a named guideline for healthy babies at home. Preterm, ill or in hospital: follow your "
                  "care team. When in doubt ask a professional."), SMALL)  # fmt: skip


def _story(sheet: Handing, width: float) -> list[Flowable]:
    story: list[Flowable] = list(_head(sheet))
    story += [_row(row, width) for row in sheet.rows] or [_text(_("No milk is there now."), BIG)]
    story += [Spacer(1, 6), _text(sheet.unused, _style(13, bold=True)), Spacer(1, 3)]
    if sheet.by_hand:
        story += _record(sheet, width)
    for one in sheet.sections:
        story += _section(one)
    return [*story, Spacer(1, 4), *_foot(sheet)]


def pdf(sheet: Handing, paper: tuple[float, float]) -> bytes:
    """The sheet on paper of that size (points), on as many pages as it needs."""
    target = io.BytesIO()
    with fonts.printing():
        title = _("Milk for %(service)s") % {"service": sheet.service.name}
        document = SimpleDocTemplate(
            target, pagesize=paper, leftMargin=_MARGIN, rightMargin=_MARGIN, topMargin=_MARGIN, bottomMargin=_MARGIN,
            title=fonts.plain(title), producer="Thawline", invariant=1, lang=get_language() or "en",
            initialFontName=fonts.REGULAR,
        )  # fmt: skip

        def numbered(canvas: Canvas, _document: object) -> None:
            canvas.setFont(fonts.REGULAR, 8)
            page = _("%(service)s, %(at)s, page %(n)d") % {
                "service": sheet.service.name, "at": sheet.printed, "n": canvas.getPageNumber()}  # fmt: skip
            room = paper[0] - 2 * _MARGIN
            canvas.drawRightString(paper[0] - _MARGIN, 7 * mm, fonts.shortened(page, width_pt=room, size=8))

        document.build(_story(sheet, document.width - 12), onFirstPage=numbered, onLaterPages=numbered)
    return target.getvalue()


def _answer(request: Request, service: ServiceNow) -> HttpResponse:
    base = labels.kept_address(request.home.preferences) or f"{request.scheme}://{request.get_host()}"
    sheet = handing(request.home, service, now=request.now, base=base)
    paper = PAPERS.get(request.GET.get("paper", ""), _paper(request))
    return HttpResponse(
        pdf(sheet, paper),
        content_type="application/pdf",
        headers={"Content-Disposition": 'inline; filename="thawline-hand-over.pdf"'},
    )


def _paper(request: Request) -> tuple[float, float]:
    zone, _units = manners(request.home.store, now=request.now)
    return PAPERS["letter" if zone.startswith(_LETTER_ZONES) else "a4"]


@require_GET
def of_family(request: Request) -> HttpResponse:
    """The sheet of one of the household's services."""
    wanted = request.GET.get("service", "")
    found = childcare.services(request.home.store)
    service = next((one for one in found if wanted in ("", one.name)), None)
    if service is None:
        raise Http404
    return _answer(request, service)


@require_GET
def of_service(request: Request, tag: str) -> HttpResponse:
    """The same sheet, for whoever works there."""
    service = childcare.service(request.home.store, request.home.service)
    if service is None:
        raise Http404
    return _answer(request, service)


routes = [
    path("hand-over/", of_family, name="hand_over"),
    path("care/<str:tag>/", of_service, name="care_sheet"),
]
