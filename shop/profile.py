"""What the shop says about itself: name, place, phone and mail; the airfields it knows; who enters himself first."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import datetime

from django.core.exceptions import ValidationError
from django.core.validators import validate_email
from django.db import transaction

from shop.errors import Problem, Refusal
from shop.models import ZONES, Person, Place, Role, Shop, User
from shop.services import audit, give_role

_ELEVATION_FT = (-1500.0, 14_500.0)


@transaction.atomic
def save_place(
    *, by: Person, name: str, elevation_ft: float, zone: str, place: Place | None = None, now: datetime
) -> Place:
    """An airfield that is new to the book, or one that is changed. Builds at home there are judged anew by its signal.

    Raises
    ------
    Refusal : no name or one that is taken, an elevation or a time zone that can't be.
    """
    name = name.strip()
    problems = []
    same = Place.objects.filter(name__iexact=name).first()
    if same is not None and place is not None and same.pk == place.pk:
        same = None
    if not name:
        problems.append(Problem("name", "The name is missing. Type it as pilots call the field."))
    elif same is not None:
        problems.append(Problem("name", f"{same.name} is in the book already. Open that one, or choose another name."))
    if not _ELEVATION_FT[0] <= elevation_ft <= _ELEVATION_FT[1]:
        problems.append(Problem("elevation_ft", f"{elevation_ft:g} ft is outside -1500 to 14500 ft. Check the unit."))
    if zone not in ZONES:
        problems.append(
            Problem("zone", f"“{zone[:60]}” is not a time zone name. Write it like Etc/GMT+6 or Europe/Zurich.")
        )
    if problems:
        raise Refusal(problems)
    place = place or Place()
    place.name, place.elevation_ft, place.zone = name, elevation_ft, zone
    place.save()
    audit(by=by, act="save_place", subject=place, now=now, detail={"name": name, "elevation_ft": elevation_ft})
    return place


@transaction.atomic
def save_profile(
    *,
    by: Person,
    name: str,
    phone: str,
    mail: str,
    place_name: str,
    elevation_ft: float,
    zone: str,
    now: datetime,
) -> Shop:
    """The one shop of this book, entered or changed.

    A place name that the book has is that place, with what is said of it now; another one is a new place.

    Raises
    ------
    Refusal : no name or phone, an address that is none, a place that can't be (`place_name`, `elevation_ft`, `zone`).
    """
    name, phone, mail = name.strip(), phone.strip(), mail.strip()
    problems = []
    if not name:
        problems.append(Problem("name", "The shop's name is missing. It stands in mails and on the card."))
    if any(not char.isprintable() for char in name):
        problems.append(Problem("name", "The name holds a character that no mail can carry. Type it again."))
    if not phone:
        problems.append(Problem("phone", "The phone is missing. A pilot with a Stop is told to call it."))
    if mail:
        try:
            validate_email(mail)
        except ValidationError:
            problems.append(Problem("mail", f"“{mail[:80]}” is not an e-mail address. Check it, or leave it empty."))
    try:
        with transaction.atomic():
            known = Place.objects.filter(name__iexact=place_name.strip()).first()
            place = save_place(by=by, name=place_name, elevation_ft=elevation_ft, zone=zone, place=known, now=now)
    except Refusal as refusal:
        problems += [
            Problem("place_name" if each.field == "name" else each.field, each.message) for each in refusal.problems
        ]
    if problems:
        raise Refusal(problems)
    shop = Shop.objects.select_for_update().first() or Shop()
    shop.name, shop.phone, shop.mail, shop.place = name, phone, mail, place
    shop.save()
    audit(by=by, act="save_profile", subject=shop, now=now, detail={"name": name, "place": place.name})
    return shop


@transaction.atomic
def enter_oneself(
    *, user: User, name: str, phone: str, zone: str, units: str, roles: Iterable[str], now: datetime
) -> Person:
    """A login that stands for nobody yet becomes a person with roles in the shop, manager always among them.

    The caller has made sure that this login may do everything here, as one made by a command may.

    Raises
    ------
    Refusal : no name, a zone or a role that there are not, or the login belongs to somebody.
    """
    if Person.objects.filter(user=user).exists():
        raise Refusal.of("", "This login belongs to a person already.", "conflict")
    if not name.strip():
        raise Refusal.of("name", "Your name is missing. Type how the shop calls you.")
    if zone not in ZONES:
        raise Refusal.of("zone", f"“{zone[:60]}” is not a time zone name. Write it like Etc/GMT+6 or Europe/Zurich.")
    person = Person.objects.create(
        user=user, name=name.strip(), email=user.email, phone=phone.strip(), zone=zone, units=units
    )
    audit(by=person, act="enter_oneself", subject=person, now=now)
    for role in dict.fromkeys([Role.MANAGER.value, *roles]):
        give_role(by=person, person=person, role=role, now=now)
    return person
