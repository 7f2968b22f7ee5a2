"""The cards that were handed out for an aircraft, and one of them as it was."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from django.db.models import Exists, OuterRef, Q
from django.utils import translation
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from breakin.models import FlightEngine, IssuedCard
from engines.models import Aircraft, Installation
from reports.pilot import words
from reports.pilot.card_content import CardContent
from reports.reader import Reader
from shop import access

CARDS_SHOWN = 100
AS_ISSUED = "as=issued"
_LANGUAGES = {"en": gettext_lazy("English"), "de": gettext_lazy("German")}
_UNITS = {"us": gettext_lazy("US units"), "si": gettext_lazy("SI units"), "mixed": gettext_lazy("mixed units")}


@dataclass(frozen=True)
class KeptCard:
    """One card that was handed out. flown : flights that were logged as flown on it."""

    card: IssuedCard
    engine: str
    stage: str
    flown: int


@dataclass(frozen=True)
class KeptPage:
    """One card as it was handed out. content : None where only its minutes were kept, which stand in `minutes`.

    language : in which the content speaks. told : in which language and units it was handed out, where the reader's
    are others. other : the address of the same card as it was handed out, or in the reader's own way; "" for none.
    """

    card: IssuedCard
    engine: str
    stage: str
    content: CardContent | None
    minutes: Sequence[tuple[str, str, str]]
    aircraft: Aircraft | None
    holds: bool
    language: str = ""
    told: str = ""
    other: str = ""

    @property
    def as_issued(self) -> bool:
        return self.other != f"?{AS_ISSUED}"


def cards_of(aircraft: Aircraft, reader: Reader) -> list[KeptCard]:
    """The cards of the engines that sat in this aircraft when they were handed out, newest first."""
    there = Installation.objects.filter(
        Q(until__isnull=True) | Q(until__gt=OuterRef("issued_at")),
        engine=OuterRef("build__engine"),
        aircraft=aircraft,
        since__lte=OuterRef("issued_at"),
    )
    rows = list(
        access.visible_to(reader.user, IssuedCard.objects.filter(Exists(there)))
        .select_related("build__engine__engine_type")
        .order_by("-issued_at", "-number")[:CARDS_SHOWN]
    )
    flown = access.visible_to(reader.user, FlightEngine.objects.filter(as_on_card__in=rows, flight__corrected_by=None))
    counts: dict[int, int] = {}
    for card in flown.values_list("as_on_card", flat=True):
        counts[card] = counts.get(card, 0) + 1
    return [KeptCard(row, str(row.build.engine), row.get_stage_display(), counts.get(row.pk, 0)) for row in rows]


def kept_page(card: IssuedCard, reader: Reader, now: datetime, *, as_issued: bool = False) -> KeptPage:
    """A card that the reader may see, in his way where that was kept, or as it was handed out."""
    content, language, told, other = _read(card, reader, as_issued)
    seat = (
        Installation.objects.filter(
            Q(until__isnull=True) | Q(until__gt=card.issued_at),
            engine=card.build.engine_id,
            since__lte=card.issued_at,
        )
        .select_related("aircraft")
        .first()
    )
    seen = access.visible_to(reader.user, Aircraft.objects.filter(pk=seat.aircraft_id)).first() if seat else None
    newest = IssuedCard.objects.filter(build=card.build).order_by("-number").first()
    return KeptPage(
        card=card,
        engine=str(card.build.engine),
        stage=card.get_stage_display(),
        content=content,
        minutes=words.minute_rows(card.minutes, card.plan.credit),
        aircraft=seen,
        holds=newest == card and now <= card.valid_until,
        language=language,
        told=told,
        other=other,
    )


def _read(card: IssuedCard, reader: Reader, as_issued: bool) -> tuple[CardContent | None, str, str, str]:
    """What the card says to this reader, in which language, how it was handed out, and where the other way is.

    The evidence is what was handed out. What stands beside it was made from the same facts at the same moment.
    """
    kept: Mapping[str, Any] = card.detail.get("content") or {}
    mine = (translation.get_language() or "en").partition("-")[0]
    if not kept:
        return None, mine, "", ""
    issued_in = str(card.detail.get("language") or "")
    content = CardContent.from_dict(kept)
    if not issued_in or (issued_in, content.units) == (mine, reader.units):
        return content, issued_in or mine, "", ""
    told = _("It was handed out in %(language)s and in %(units)s.") % {
        "language": _LANGUAGES.get(issued_in, issued_in),
        "units": _UNITS.get(content.units, content.units),
    }
    readings = card.detail.get("readings") or ()
    own = next((row for row in readings if (row["language"], row["units"]) == (mine, reader.units)), None)
    if own is None:
        return content, issued_in, told, ""
    if as_issued:
        return content, issued_in, told, "?"
    return CardContent.from_dict(own["content"]), mine, told, f"?{AS_ISSUED}"
