"""Who reads a page: the person, the units and the zone in which numbers and times are shown."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import wraps
from typing import Concatenate, ParamSpec, cast
from zoneinfo import ZoneInfo

from django.contrib.auth.decorators import login_required
from django.http import HttpRequest, HttpResponseBase
from django.utils import timezone

from shop import access
from shop.models import Person, Units, User

Rest = ParamSpec("Rest")


@dataclass(frozen=True)
class Reader:
    """A signed-in user as a reader. `units` is "us", "si" or "mixed"; `zone` is a time zone's name."""

    user: User
    person: Person | None
    units: str
    zone: str
    staff: bool


def reader_of(user: User) -> Reader:
    """The reader behind a signed-in user; one without a person reads US units and UTC."""
    person = access.person_of(user)
    return Reader(
        user=user,
        person=person,
        units=person.units if person else Units.US,
        zone=person.zone if person else "UTC",
        staff=access.is_staff_member(user),
    )


def for_reader(
    view: Callable[Concatenate[HttpRequest, Reader, Rest], HttpResponseBase],
) -> Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]:
    """A page for signed-in readers: the view gets the reader, and times are written in the reader's own zone.

    The view has to render before it returns (`render`, not a lazy response).
    """

    @wraps(view)
    def page(request: HttpRequest, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponseBase:
        if not isinstance(request.user, User):
            raise TypeError("A page for readers needs a signed-in user.")
        reader = reader_of(request.user)
        with timezone.override(ZoneInfo(reader.zone)):
            return view(request, reader, *args, **kwargs)

    return cast("Callable[Concatenate[HttpRequest, Rest], HttpResponseBase]", login_required(page))
