"""Enter an aircraft with its holder."""

from __future__ import annotations

from datetime import datetime

from django.core.exceptions import ValidationError
from django.db import transaction

from breakin.services.common import audit
from engines.models import Aircraft, Holding
from shop.errors import Refusal
from shop.models import Customer, Person, Place


@transaction.atomic
def enter_aircraft(
    *,
    by: Person,
    registration: str,
    home: Place,
    customer: Customer,
    since: datetime,
    description: str = "",
    now: datetime,
) -> Aircraft:
    """An aircraft that is new to the book, held by this customer from a moment on.

    Raises
    ------
    Refusal : a registration that is missing, can't be, or ("conflict") is known; a moment that lies in the future.
    """
    known = Aircraft.objects.filter(registration__iexact=registration.strip()).first()
    if known is not None:
        raise Refusal.of(
            "registration",
            f"{known.registration} is in the book already. A new holder is a change of holder.",
            "conflict",
        )
    if since > now:
        raise Refusal.of("since", f"{since:%Y-%m-%d} lies in the future. Check the date.")
    aircraft = Aircraft(registration=registration.strip().upper(), home=home, description=description.strip())
    try:
        aircraft.full_clean()
    except ValidationError as error:
        raise Refusal.of("registration", " ".join(error.messages)) from error
    aircraft.save()
    Holding.objects.create(aircraft=aircraft, customer=customer, since=since)
    audit(by=by, act="enter_aircraft", subject=aircraft, now=now)
    return aircraft
