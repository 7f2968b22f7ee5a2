"""The invented shop, its staff, its customers and their people."""

from __future__ import annotations

import secrets
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any

from shop.models import Customer, CustomerMember, MemberRole, Person, Place, Role, Shop, ShopRole, User

SHOP_ZONE = "Etc/GMT+6"  # UTC-6: the sign is inverted in these names
DOMAIN = "wexhollow.example"

PLACES = (
    ("Tellamoor Field", 620, SHOP_ZONE),
    ("Saltreach", 15, SHOP_ZONE),
    ("Quillmesa", 6480, "Etc/GMT+7"),
    ("Dunmarrow", 2100, SHOP_ZONE),
    ("Ostrevik", 90, "Etc/GMT-1"),
)


@dataclass(frozen=True)
class Cast:
    """One invented person. `customer` is a customer's name, `role` a shop role."""

    name: str
    role: str = ""
    customer: str = ""
    member: str = MemberRole.OWNER
    phone: str = ""
    email: bool = True
    units: str = "us"
    zone: str = SHOP_ZONE
    language: str = "en"
    demo_login: str = ""


STAFF = (
    Cast("Tilde", Role.MANAGER, phone="555 0101", demo_login="shop manager"),
    Cast("Bram", Role.BUILD_TECHNICIAN, phone="555 0102", demo_login="build technician"),
    Cast("Oda", Role.BUILD_TECHNICIAN, phone="555 0103"),
    Cast("Pell", Role.LINE_TECHNICIAN, phone="555 0104", demo_login="line technician"),
    Cast("Juno", Role.LINE_TECHNICIAN, phone="555 0105"),
    Cast("Ansa", Role.SIGNATORY, phone="555 0106", demo_login="signatory"),
    Cast("Corin", Role.BREAK_IN_PILOT, phone="555 0107", demo_login="break-in pilot"),
)

CUSTOMERS = {
    "K1": "Larkmere Flying Club",
    "K2": "Ines",
    "K3": "Duff",
    "K4": "Saltreach Charter",
    "K5": "Orrin",
    "K6": "Quillmesa Air Tours",
    "K7": "Petra",
    "K8": "Dunmarrow School",
    "K9": "Jory",
    "K10": "Sunniva",
    "K11": "Vintage Group",
    "K12": "Quentin",
    "K13": "Tarn Survey",
}

MEMBERS = (
    Cast("Larke", customer="K1", phone="555 0201"),
    Cast("Wim", customer="K1", member=MemberRole.CLUB_MEMBER, demo_login="club member"),
    Cast("Dessa", customer="K1", member=MemberRole.CLUB_MEMBER),
    Cast("Ivo", customer="K1", member=MemberRole.CLUB_MEMBER),
    Cast("Tove", customer="K1", member=MemberRole.CLUB_MEMBER),
    Cast("Marl", customer="K1", member=MemberRole.CLUB_MEMBER),
    Cast("Pia", customer="K1", member=MemberRole.CLUB_MEMBER),
    Cast("Ines", customer="K2", phone="555 0202", demo_login="owner"),
    Cast("Duff", customer="K3", phone="555 0203"),
    Cast("Mara", customer="K4", phone="555 0204", demo_login="owner of a twin"),
    Cast("Orrin", customer="K5", phone="555 0205"),
    Cast("Tomas", customer="K6", phone="555 0206", zone="Etc/GMT+7"),
    Cast("Petra", customer="K7", phone="555 0207"),
    Cast("Hale", customer="K8", phone="555 0208"),
    Cast("Rhea", customer="K8", member=MemberRole.CLUB_MEMBER),
    Cast("Jory", customer="K9", phone="555 0209", email=False),
    Cast(
        "Sunniva",
        customer="K10",
        phone="555 0210",
        units="si",
        zone="Etc/GMT-1",
        language="de",
        demo_login="owner abroad (German, SI units)",
    ),
    Cast("Rolf", customer="K11", phone="555 0211"),
    Cast("Quentin", customer="K12", phone="555 0212"),
    Cast("Vesna", customer="K13", phone="555 0213"),
)


@dataclass(frozen=True)
class Login:
    role: str
    email: str
    password: str


def load_shop() -> Shop:
    places = {name: _place(name, elevation, zone) for name, elevation, zone in PLACES}
    shop = Shop.objects.first()
    return shop or Shop.objects.create(name="Wexhollow Engine Works", place=places["Tellamoor Field"], phone="555 0100")


def load_people(now: datetime) -> tuple[dict[str, Person], list[Login]]:
    """Make staff, customers and their people; returns the people by name, and the logins made in this call."""
    for name in CUSTOMERS.values():
        Customer.objects.get_or_create(name=name)
    people: dict[str, Person] = {}
    logins: list[Login] = []
    for cast in (*STAFF, *MEMBERS):
        people[cast.name], login = _person(cast, now - timedelta(days=400))
        if login:
            logins.append(login)
    return people, logins


def _place(name: str, elevation_ft: float, zone: str) -> Place:
    place, _ = Place.objects.get_or_create(name=name, defaults={"elevation_ft": elevation_ft, "zone": zone})
    return place


def _person(cast: Cast, since: datetime) -> tuple[Person, Login | None]:
    address = f"{cast.name.lower()}@{DOMAIN}" if cast.email else ""
    values: dict[str, Any] = {"email": address, "phone": cast.phone, "units": cast.units, "zone": cast.zone}
    values["language"] = cast.language
    values["toured_at"] = since  # they fly for weeks already
    person, _ = Person.objects.get_or_create(name=cast.name, defaults=values)
    if cast.role:
        ShopRole.objects.get_or_create(person=person, role=cast.role, defaults={"since": since})
    if cast.customer:
        customer = Customer.objects.get(name=CUSTOMERS[cast.customer])
        first = cast.member == MemberRole.OWNER
        CustomerMember.objects.get_or_create(
            customer=customer, person=person, defaults={"role": cast.member, "since": since, "first_contact": first}
        )
    login = _login(cast, person) if cast.demo_login and person.user is None else None
    return person, login


def _login(cast: Cast, person: Person) -> Login:
    password = f"{cast.name.lower()}-{secrets.token_hex(4)}"
    manager = cast.role == Role.MANAGER
    person.user = User.objects.create_user(person.email, password, is_staff=manager, is_superuser=manager)
    person.save(update_fields=["user"])
    return Login(cast.demo_login, person.email, password)
