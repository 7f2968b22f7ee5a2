"""Words, shapes, times and plain numbers for templates. Quantities with units are filtered where units are known."""

from __future__ import annotations

from datetime import date, datetime, timedelta
from decimal import Decimal
from math import floor, isfinite, log10
from typing import Any
from zoneinfo import ZoneInfo

from django import template
from django.utils import timezone
from django.utils.functional import Promise
from django.utils.html import format_html
from django.utils.safestring import SafeString
from django.utils.text import capfirst
from django.utils.translation import gettext, gettext_lazy, ngettext, override, pgettext_lazy

from shop import written
from shop.authority import ORDER_OF_AUTHORITY, WHAT_THIS_SAYS
from shop.shapes import SHAPES, kind_of

register = template.Library()

NOT_KNOWN = gettext_lazy("not known")
# State words that come as plain English, from a template or out of an assessment.
SAID = {
    "stop": gettext_lazy("stop"),
    "call": gettext_lazy("call"),
    "watch": gettext_lazy("watch"),
    "note": gettext_lazy("note"),
    "stopped": gettext_lazy("stopped"),
    "not in break-in": gettext_lazy("not in break-in"),
    "not logged": gettext_lazy("not logged"),
    "not known": gettext_lazy("not known"),
    "met": gettext_lazy("met"),
    "met (stated)": gettext_lazy("met (stated)"),
    "met (measured)": gettext_lazy("met (measured)"),
    "not met": gettext_lazy("not met"),
    "partly met": gettext_lazy("partly met"),
    "not started": gettext_lazy("not started"),
    "missed": gettext_lazy("missed"),
    "falling": gettext_lazy("falling"),
    "flat": gettext_lazy("flat"),
    "rising": gettext_lazy("rising"),
    "flat but high": gettext_lazy("flat but high"),
    "not enough readings": gettext_lazy("not enough readings"),
    "log only": gettext_lazy("log only"),
    "undecided": gettext_lazy("undecided"),
    # A file that was sent.
    "kept": pgettext_lazy("file", "kept"),
    "waiting": pgettext_lazy("file", "waiting"),
    "being read": pgettext_lazy("file", "being read"),
    "asks": pgettext_lazy("file", "asks"),
    "read": pgettext_lazy("file", "read"),
    "could not be read": pgettext_lazy("file", "could not be read"),
}
Number = int | float | Decimal


@register.simple_tag
def shape(kind: str) -> SafeString:
    """The small drawing called ``kind`` (see shop/shapes.py), hidden from screen readers; nothing if unknown."""
    drawing = SHAPES.get(kind)
    if drawing is None:
        return SafeString("")
    if drawing.line:
        return format_html(
            '<svg class="shape" viewBox="0 0 16 16" aria-hidden="true" focusable="false">'
            '<path d="{}" fill="none" stroke-width="2.2" stroke-linecap="square"/></svg>',
            drawing.path,
        )
    return format_html(
        '<svg class="shape" viewBox="0 0 16 16" aria-hidden="true" focusable="false"><path d="{}"/></svg>',
        drawing.path,
    )


@register.simple_tag
def word(text: str, kind: str = "", size: str = "") -> SafeString:
    """A state word with the shape that repeats it: ``{% word "Call today" %}``, ``{% word lane "late" %}``.

    ``kind`` is looked up from the word when left out; ``size`` may be "large".
    """
    name = kind or kind_of(in_english(text))
    classes = " ".join(["word", *([f"word--{name}"] if name else []), *([f"word--{size}"] if size else [])])
    return format_html('<span class="{}">{}<span>{}</span></span>', classes, shape(name), say(text))


@register.filter
def say(text: Any) -> str:
    """A state word in the language of the page; anything else as it is. Keeps a capital at its beginning."""
    plain = str(text)
    said = SAID.get(plain) or SAID.get(plain[:1].lower() + plain[1:])
    if said is None:
        return plain
    return capfirst(str(said)) if plain[:1].isupper() else str(said)


def in_english(text: Any) -> str:
    """A word that is translated where it is shown, as the source has it: shapes go by that one."""
    if not isinstance(text, Promise):
        return str(text)
    with override("en"):
        return str(text)


@register.simple_tag
def authority() -> str:
    """The order of authority in one paragraph of plain text."""
    return f"{gettext(ORDER_OF_AUTHORITY)} {gettext(WHAT_THIS_SAYS)}"


@register.filter
def hours(value: Number | None) -> str:
    """Hours with one decimal, "13.5"; "not known" for nothing."""
    return str(NOT_KNOWN) if value is None else written.digits(f"{value:.1f}")


@register.filter
def plusminus(value: Number | None, uncertainty: Number | None) -> str:
    """A value with its uncertainty, both to the place of the uncertainty's leading digit: "0.11 ± 0.04".

    A leading 1 keeps one digit more, so that 0.012 isn't shown as 0.01. Without a value: "not known"; without an
    uncertainty the value is given as it is, followed by "(uncertainty not known)".
    """
    if value is None:
        return str(NOT_KNOWN)
    if uncertainty is None or not isfinite(uncertainty) or uncertainty < 0:
        return gettext("%(value)s (uncertainty not known)") % {"value": _signed(f"{value}")}
    places = _places(float(uncertainty))
    return f"{_signed(f'{value:.{places}f}')} ± {written.number(float(uncertainty), places)}"


def _places(uncertainty: float) -> int:
    if uncertainty == 0:
        return 2
    power = floor(log10(uncertainty))
    leading = int(uncertainty / 10**power + 1e-9)
    return max(0, -power + (1 if leading == 1 else 0))


def _signed(text: str) -> str:
    return written.digits(text.replace("-", "−", 1) if text.startswith("-") else text)


@register.filter
def localwhen(value: datetime | None, zone: str | None = None) -> str:
    """An instant as the reader's clock shows it, "24 Nov 14:02 UTC−6"; the year is added when it isn't this year's.

    The zone is the active one (the reader's) unless another is named.
    """
    if value is None:
        return str(NOT_KNOWN)
    local = _local(value, zone)
    this_year = _local(timezone.now(), zone).year
    return f"{written.day(local, year=local.year != this_year)} {local:%H:%M} {utc_offset(local)}"


@register.filter
def day(value: date | datetime | None) -> str:
    """A day of the calendar with its year, "24 Nov 2026"; of an instant, the day on the reader's clock."""
    if value is None:
        return str(NOT_KNOWN)
    return written.day(timezone.localtime(value) if isinstance(value, datetime) else value)


def utc_offset(local: datetime) -> str:
    """The offset of an aware datetime as people write it: "UTC", "UTC−6", "UTC+5:30"."""
    offset = local.utcoffset() or timedelta(0)
    minutes = round(offset.total_seconds() / 60)
    if minutes == 0:
        return "UTC"
    whole, rest = divmod(abs(minutes), 60)
    return f"UTC{'+' if minutes > 0 else '−'}{whole}" + (f":{rest:02d}" if rest else "")


def _local(value: datetime, zone: str | None) -> datetime:
    return timezone.localtime(value, ZoneInfo(zone) if zone else None)


@register.filter
def dayclock(value: datetime | None) -> str:
    """An instant on the reader's clock with its year and without the zone, "24 Nov 2026, 14:02"."""
    if value is None:
        return str(NOT_KNOWN)
    local = timezone.localtime(value)
    return f"{written.day(local)}, {local:%H:%M}"


@register.filter
def ago(value: datetime | date | None) -> str:
    """How long since, or until, in one unit that can be said aloud: "just now", "3 hours ago", "in 2 days".

    A date without a time counts in whole days of the reader's calendar: "today", "yesterday", "5 days ago".
    """
    if value is None:
        return gettext("never")
    if not isinstance(value, datetime):
        return _days_ago((timezone.localdate() - value).days)
    seconds = (timezone.now() - value).total_seconds()
    size = abs(seconds)
    if size < 60:
        return gettext("just now")
    if size >= 3 * 86400:
        return _days(round(size / 86400), seconds > 0)
    if size < 3600:
        minutes = int(size // 60)
        past = ngettext("%(count)d minute ago", "%(count)d minutes ago", minutes)
        ahead = ngettext("in %(count)d minute", "in %(count)d minutes", minutes)
        return (past if seconds > 0 else ahead) % {"count": minutes}
    hours = int(size // 3600)
    past = ngettext("%(count)d hour ago", "%(count)d hours ago", hours)
    ahead = ngettext("in %(count)d hour", "in %(count)d hours", hours)
    return (past if seconds > 0 else ahead) % {"count": hours}


def _days_ago(days: int) -> str:
    plain = {0: gettext("today"), 1: gettext("yesterday"), -1: gettext("tomorrow")}
    return plain.get(days) or _days(abs(days), days > 0)


def _days(count: int, past: bool) -> str:
    behind = ngettext("%(count)d day ago", "%(count)d days ago", count)
    ahead = ngettext("in %(count)d day", "in %(count)d days", count)
    return (behind if past else ahead) % {"count": count}


@register.filter
def choice_in(value: Any, names: str) -> bool:
    """Whether a value is one of a list of words: ``{% if state|choice_in:"late due" %}``."""
    return str(value) in names.split()
