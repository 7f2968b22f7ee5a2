"""Enter an engine by its serial number."""

from __future__ import annotations

from datetime import datetime

from django.db import IntegrityError, transaction

from breakin.services.common import audit
from engines.models import Engine, EngineType
from shop.errors import Refusal
from shop.models import Person

_LONGEST_SERIAL = 40


def enter_engine(*, by: Person, engine_type: EngineType, serial: str, now: datetime) -> Engine:
    """A serial number that is new to the book.

    Raises
    ------
    Refusal : no serial, one too long, or ("conflict") one that this type has already, in any case.
    """
    serial = serial.strip()
    if not serial:
        raise Refusal.of("serial", "The serial number is missing. It stands on the data plate.")
    if len(serial) > _LONGEST_SERIAL:
        raise Refusal.of("serial", f"{len(serial)} characters are too long for a serial number. Check it.")
    known = Engine.objects.filter(engine_type=engine_type, serial__iexact=serial).first()
    if known is not None:
        raise Refusal.of(
            "serial", f"{known} is in the book already. Say so beside it, or check the number.", "conflict"
        )
    try:
        with transaction.atomic():
            engine = Engine.objects.create(engine_type=engine_type, serial=serial)
            audit(by=by, act="enter_engine", subject=engine, now=now)
            return engine
    except IntegrityError as error:
        raise Refusal.of("serial", f"{serial} was entered at the same moment. Look again.", "conflict") from error
