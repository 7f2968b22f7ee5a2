"""Who sees what, by periods: the holder at the time, the holder today, the assigned pilot, and nobody else."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.contrib.auth.models import AnonymousUser
from django.core.exceptions import PermissionDenied
from django.utils import timezone

from breakin.models import Assessment, Finding, OilEvent, Severity
from engines.models import (
    Aircraft,
    Build,
    Engine,
    EngineType,
    EngineTypeRevision,
    Holding,
    Installation,
    PilotAssignment,
)
from shop import access
from shop.models import Customer, CustomerMember, Person, Place, Role, ShopRole, User

pytestmark = pytest.mark.django_db

SOLD = datetime(2026, 6, 1, 12, tzinfo=UTC)
BEFORE = SOLD - timedelta(days=30)
AFTER = SOLD + timedelta(days=30)
LONG_AGO = SOLD - timedelta(days=300)


def _user(name: str, customer: Customer | None = None, role: str = "") -> User:
    user = User.objects.create_user(f"{name}@shop.example", "x")
    person = Person.objects.create(name=name, user=user, email=user.email)
    if customer:
        CustomerMember.objects.create(customer=customer, person=person, role="owner", since=LONG_AGO)
    if role:
        ShopRole.objects.create(person=person, role=role, since=LONG_AGO)
    return user


class Fleet:
    """One aircraft sold by Ada's firm to Ben's on a day, with one engine in it."""

    def __init__(self) -> None:
        place = Place.objects.create(name="Field", elevation_ft=100, zone="UTC")
        self.seller, self.buyer = Customer.objects.create(name="Seller"), Customer.objects.create(name="Buyer")
        self.ada, self.ben = _user("ada", self.seller), _user("ben", self.buyer)
        self.cora = _user("cora", role=Role.MANAGER)
        self.stranger = _user("eve", Customer.objects.create(name="Other"))
        self.aircraft = Aircraft.objects.create(registration="QX-1", home=place)
        Holding.objects.create(aircraft=self.aircraft, customer=self.seller, since=LONG_AGO, until=SOLD)
        Holding.objects.create(aircraft=self.aircraft, customer=self.buyer, since=SOLD)
        kind = EngineType.objects.create(designation="T", maker="M")
        self.revision = EngineTypeRevision.objects.create(
            engine_type=kind, number=1, source="test", cylinders=4, displacement_cuin=320, compression_ratio=8,
            rated_hp=160, rated_rpm=2700, fuel_system="injected", sump_full_qt=8,
        )  # fmt: skip
        self.engine = Engine.objects.create(engine_type=kind, serial="1")
        self.installation = Installation.objects.create(
            engine=self.engine, aircraft=self.aircraft, since=LONG_AGO, min_oil_qt=5
        )

    def reading(self, at: datetime) -> OilEvent:
        event = uuid4()
        person = Person.objects.get(name="ada")
        return OilEvent.objects.create(
            client_id=event, root=event, content_hash="0", happened_at=at, local_date=at.date(), zone="UTC",
            received_at=at, entered_by=person, source="portal", grade="B", engine=self.engine, kind="reading",
            level_qt=6,
        )  # fmt: skip


@pytest.fixture
def fleet() -> Fleet:
    return Fleet()


def _levels(user: User, fleet: Fleet) -> list[tuple[OilEvent, bool]]:
    rows = access.visible_to(user, OilEvent.objects.order_by("happened_at"))
    return [(row, row.is_own) for row in rows]  # type: ignore[attr-defined]


def test_the_shop_sees_everything_as_its_own(fleet: Fleet) -> None:
    event = fleet.reading(BEFORE)

    assert _levels(fleet.cora, fleet) == [(event, True)]


def test_the_old_owner_sees_up_to_the_sale_and_nothing_after_it(fleet: Fleet) -> None:
    before, _after = fleet.reading(BEFORE), fleet.reading(AFTER)

    assert _levels(fleet.ada, fleet) == [(before, True)]


def test_the_new_owner_sees_the_earlier_technical_facts_but_not_as_his_own(fleet: Fleet) -> None:
    before, after = fleet.reading(BEFORE), fleet.reading(AFTER)

    assert _levels(fleet.ben, fleet) == [(before, False), (after, True)]


def test_a_stranger_sees_nothing(fleet: Fleet) -> None:
    fleet.reading(BEFORE)

    assert _levels(fleet.stranger, fleet) == []


def test_somebody_not_signed_in_sees_nothing(fleet: Fleet) -> None:
    fleet.reading(BEFORE)

    assert not access.visible_to(AnonymousUser(), OilEvent.objects.all()).exists()


def test_a_member_who_left_sees_only_what_happened_while_he_belonged(fleet: Fleet) -> None:
    first, _second = fleet.reading(SOLD - timedelta(days=60)), fleet.reading(SOLD - timedelta(days=10))
    left = SOLD - timedelta(days=30)
    CustomerMember.objects.filter(person__name="ada").update(until=left)

    assert _levels(fleet.ada, fleet) == [(first, True)]


def test_an_engine_moved_to_another_aircraft_takes_its_history_to_the_new_holder_only(fleet: Fleet) -> None:
    earlier = fleet.reading(AFTER)
    moved = AFTER + timedelta(days=5)
    fleet.installation.until = moved
    fleet.installation.save(update_fields=["until"])
    other = Aircraft.objects.create(registration="QX-2", home=fleet.aircraft.home)
    Holding.objects.create(aircraft=other, customer=Customer.objects.get(name="Other"), since=LONG_AGO)
    Installation.objects.create(engine=fleet.engine, aircraft=other, since=moved, min_oil_qt=5)
    later = fleet.reading(moved + timedelta(days=1))

    assert _levels(fleet.stranger, fleet) == [(earlier, False), (later, True)]
    assert _levels(fleet.ben, fleet) == [(earlier, True)]


def test_an_assigned_pilot_sees_the_aircraft_for_his_period(fleet: Fleet) -> None:
    corin = _user("corin", role=Role.BREAK_IN_PILOT)
    within, _outside = fleet.reading(BEFORE), fleet.reading(AFTER)
    PilotAssignment.objects.create(
        aircraft=fleet.aircraft, person=corin.person, since=BEFORE - timedelta(days=1), until=SOLD
    )

    assert _levels(corin, fleet) == [(within, True)]


def test_a_finding_for_the_shop_only_is_hidden_from_the_owner(fleet: Fleet) -> None:
    build = Build.objects.create(
        engine=fleet.engine, number="1", kind="overhaul", type_revision=fleet.revision, opened_at=LONG_AGO
    )
    for flag in (True, False):
        Finding.objects.create(
            build=build, rule="E1", occurrence=str(flag), rule_version=1, severity=Severity.CALL, title="t", text="x",
            why="y", source="z", happened_at=AFTER, opened_at=AFTER, for_customer=flag,
        )  # fmt: skip

    assert [row.for_customer for row in access.visible_to(fleet.ben, Finding.objects.all())] == [True]
    assert access.visible_to(fleet.cora, Finding.objects.all()).count() == 2


def test_a_build_is_seen_by_whoever_held_the_aircraft_while_it_ran(fleet: Fleet) -> None:
    Build.objects.create(
        engine=fleet.engine, number="1", kind="overhaul", type_revision=fleet.revision, state="closed",
        opened_at=SOLD + timedelta(days=10), closed_at=SOLD + timedelta(days=40),
    )  # fmt: skip

    assert access.visible_to(fleet.ben, Build.objects.all()).exists()
    assert not access.visible_to(fleet.ada, Build.objects.all()).exists()


def test_only_todays_holder_may_log(fleet: Fleet) -> None:
    assert access.may_now(fleet.ben, "log_flight", fleet.aircraft)
    with pytest.raises(PermissionDenied, match="owner or pilot"):
        access.require(fleet.ada, "log_flight", fleet.aircraft)


def test_only_a_technician_may_clear_a_stop(fleet: Fleet) -> None:
    tom = _user("tom", role=Role.LINE_TECHNICIAN)

    assert access.may_now(tom, "clear_stop")
    assert not access.may_now(fleet.cora, "clear_stop")
    assert not access.may_now(fleet.ben, "clear_stop", fleet.aircraft)


def test_a_delivery_is_planned_by_the_shop_and_the_pilot_assigned_today_but_not_by_the_holder(fleet: Fleet) -> None:
    pilot, left = _user("corin"), _user("dara")
    PilotAssignment.objects.create(aircraft=fleet.aircraft, person=pilot.person, since=LONG_AGO)
    PilotAssignment.objects.create(aircraft=fleet.aircraft, person=left.person, since=LONG_AGO, until=AFTER)

    assert access.may_now(pilot, "plan_delivery", fleet.aircraft)
    assert access.may_now(fleet.cora, "plan_delivery")
    assert not access.may_now(fleet.ben, "plan_delivery", fleet.aircraft)
    with pytest.raises(PermissionDenied, match="break-in pilot of the aircraft"):
        access.require(left, "plan_delivery", fleet.aircraft)


def test_a_role_that_ended_gives_nothing(fleet: Fleet) -> None:
    ShopRole.objects.filter(person__name="cora").update(until=timezone.now() - timedelta(days=1))

    assert not access.is_staff_member(User.objects.get(pk=fleet.cora.pk))


def test_a_model_without_a_path_is_refused_rather_than_shown(fleet: Fleet) -> None:
    with pytest.raises(access.Unscoped):
        access.visible_to(fleet.ben, Customer.objects.all())


def test_what_holds_today_is_shown_to_todays_holder_only(fleet: Fleet) -> None:
    build = Build.objects.create(
        engine=fleet.engine, number="1", kind="overhaul", type_revision=fleet.revision, opened_at=LONG_AGO
    )
    Assessment.objects.create(build=build, engine=fleet.engine, aircraft=fleet.aircraft)

    assert access.visible_to(fleet.ben, Assessment.objects.all()).exists()
    assert not access.visible_to(fleet.ada, Assessment.objects.all()).exists()


def test_an_installation_that_began_after_the_sale_is_hidden_from_the_old_owner(fleet: Fleet) -> None:
    moved = AFTER
    Installation.objects.filter(pk=fleet.installation.pk).update(until=moved)
    later = Installation.objects.create(engine=fleet.engine, aircraft=fleet.aircraft, since=moved, min_oil_qt=5)

    assert later not in access.visible_to(fleet.ada, Installation.objects.all())
    assert later in access.visible_to(fleet.ben, Installation.objects.all())


def test_a_fact_at_the_very_moment_of_the_sale_is_the_buyers(fleet: Fleet) -> None:
    event = fleet.reading(SOLD)

    assert _levels(fleet.ada, fleet) == []
    assert _levels(fleet.ben, fleet) == [(event, True)]
