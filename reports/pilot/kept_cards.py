"""The cards that were handed out for an aircraft, and one of them as it was."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import datetime

from django.db.models import Exists, OuterRef, Q

from breakin.models import FlightEngine, IssuedCard
from engines.models import Aircraft, Installation
from reports.pilot import words
from reports.pilot.card_content import CardContent
from reports.reader import Reader
from shop import access

CARDS_SHOWN = 100


@dataclass(frozen=True)
class KeptCard:
    """One card that was handed out. flown : flights that were logged as flown on it."""

    card: IssuedCard
    engine: str
    stage: str
    flown: int


@dataclass(frozen=True)
class KeptPage:
    """One card as it was handed out. content : None where only its minutes were kept, which stand in `minutes`."""

    card: IssuedCard
    engine: str
    stage: str
    content: CardContent | None
    minutes: Sequence[tuple[str, str, str]]
    aircraft: Aircraft | None
    holds: bool


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


def kept_page(card: IssuedCard, reader: Reader, now: datetime) -> KeptPage:
    """A card that the reader may see."""
    kept = card.detail.get("content")
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
        content=CardContent.from_dict(kept) if kept else None,
        minutes=words.minute_rows(card.minutes, card.plan.credit),
        aircraft=seen,
        holds=newest == card and now <= card.valid_until,
    )
