"""The shop writes a line to whoever holds an aircraft. It is read on the portal and goes with the aircraft's mail."""

from __future__ import annotations

from datetime import datetime, timedelta

from django.db import transaction

from breakin.models import ShopNote
from breakin.services.common import audit
from engines.models import Aircraft, Build, BuildState, Holding, Installation
from shop.errors import Refusal
from shop.models import Person

LONGEST = 600
TWICE = timedelta(minutes=10)  # the same words again within this are the same button pressed twice


@transaction.atomic
def write_to_holder(*, by: Person, aircraft: Aircraft, text: str, now: datetime) -> ShopNote:
    """Keep a message to the holder of an aircraft. The same words sent twice in a row are one message.

    Raises
    ------
    Refusal : no words or too many, nobody holds the aircraft, or no engine in it was ever built here.
    """
    text = text.strip()
    if not text:
        raise Refusal.of("text", "What is the message? Write a line.")
    if len(text) > LONGEST:
        raise Refusal.of("text", f"{len(text)} characters are too long. Keep it under {LONGEST}, or phone.")
    # Locked, so that the same words sent twice at once find each other.
    Aircraft.objects.select_for_update().get(pk=aircraft.pk)
    holdings = Holding.objects.filter(aircraft=aircraft, since__lte=now, until__isnull=True)
    held = holdings.select_related("customer").first()
    if held is None:
        raise Refusal.of("text", "Nobody holds this aircraft now. Enter the holder first, or phone.")
    build = _build_in(aircraft)
    if build is None:
        raise Refusal.of("text", "No engine in this aircraft has a build here, so no mail goes out about it. Phone.")
    before = ShopNote.objects.filter(aircraft=aircraft, customer=held.customer, by=by, at__gt=now - TWICE)
    same = before.filter(text=text).first()
    if same is not None:
        return same
    note = ShopNote.objects.create(aircraft=aircraft, build=build, customer=held.customer, text=text, by=by, at=now)
    audit(by=by, act="write_to_holder", subject=note, now=now, detail={"aircraft": aircraft.registration})
    return note


def _build_in(aircraft: Aircraft) -> Build | None:
    """A build of an engine that sits in the aircraft, an open one before one that has ended."""
    seats = Installation.objects.filter(aircraft=aircraft, until__isnull=True).values("engine")
    builds = list(Build.objects.filter(engine__in=seats).order_by("-opened_at", "-id"))
    return next((build for build in builds if build.state == BuildState.OPEN), builds[0] if builds else None)
