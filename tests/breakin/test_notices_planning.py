"""Who is told what: the rows, their recipients, their levels, and that twice adds nothing."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from uuid import uuid4

import pytest
from django.conf import LazySettings
from django.core import mail

from breakin import notices
from breakin.models import DueItem, DueState, Finding, FindingState, Flight, Message, Notice, NoticeState, Severity
from breakin.notices.wanted import KEY_LENGTH, worked
from shop.models import CustomerMember, Person, Role, ShopRole, User
from tests.breakin import notice_rows as rows
from tests.breakin.notice_rows import LONG_AGO, NOON, Cast

pytestmark = pytest.mark.django_db


@pytest.fixture
def cast(settings: LazySettings) -> Cast:
    settings.SHOP_TIME_ZONE = "Etc/GMT+6"
    return rows.cast()


def told(**filters: object) -> set[tuple[str, str]]:
    """(name, level) of every notice."""
    return set(Notice.objects.filter(**filters).values_list("recipient__name", "level"))


def test_a_stop_goes_to_owner_assigned_pilot_technician_and_manager_at_once(cast: Cast) -> None:
    rows.assign(cast.instructor, cast.aircraft)
    rows.finding(cast.left)
    planned = notices.plan(NOON, [cast.left.pk])
    assert planned.stops
    assert told() == {("Ines", "stop"), ("Corin", "stop"), ("Pell", "stop"), ("Tilde", "stop")}


def test_a_stop_that_is_the_shops_own_matter_is_not_told_to_the_customer(cast: Cast) -> None:
    rows.assign(cast.instructor, cast.aircraft)
    rows.finding(cast.left, for_customer=False)
    notices.plan(NOON)
    assert told() == {("Pell", "stop"), ("Tilde", "stop")}


def test_a_call_goes_to_manager_and_technician_who_phone(cast: Cast) -> None:
    rows.finding(cast.left, Severity.CALL)
    assert not notices.plan(NOON).stops
    assert told() == {("Pell", "call"), ("Tilde", "call")}


@pytest.mark.parametrize("severity", [Severity.WATCH, Severity.NOTE])
def test_a_watch_or_a_note_is_told_to_nobody(cast: Cast, severity: Severity) -> None:
    rows.finding(cast.left, severity)
    assert notices.plan(NOON).new == 0


@pytest.mark.parametrize(
    ("escalation", "expected"),
    [
        ("nudge", {("Ines", "nudge")}),
        ("chase", {("Ines", "nudge"), ("Pell", "chase")}),
        ("call", {("Ines", "nudge"), ("Pell", "chase"), ("Pell", "call"), ("Tilde", "call")}),
        (
            "manager",
            {("Ines", "nudge"), ("Pell", "chase"), ("Pell", "call"), ("Tilde", "call"), ("Tilde", "manager")},
        ),
    ],
)
def test_a_due_item_climbs_the_ladder_and_jumps_over_no_step(
    cast: Cast, escalation: str, expected: set[tuple[str, str]]
) -> None:
    rows.due(cast.left, escalation)
    notices.plan(NOON)
    assert told() == expected


def test_a_due_item_without_an_escalation_is_told_to_nobody(cast: Cast) -> None:
    rows.due(cast.left, "", state=DueState.DUE_SOON)
    assert notices.plan(NOON).new == 0


def test_the_nudge_also_reaches_the_member_who_flew_the_flight_it_is_about(cast: Cast) -> None:
    student = rows.person("Wim")
    CustomerMember.objects.create(customer=cast.customer, person=student, role="club_member", since=LONG_AGO)
    flown = flight(cast, student)
    rows.due(cast.left, evidence=[{"kind": "flight", "root": str(flown.root), "words": "9 June"}])
    notices.plan(NOON)
    assert told() == {("Ines", "nudge"), ("Wim", "nudge")}


def test_a_pilot_who_left_the_club_is_not_nudged_about_his_last_flight(cast: Cast) -> None:
    gone = rows.person("Wim")
    CustomerMember.objects.create(
        customer=cast.customer, person=gone, role="club_member", since=LONG_AGO, until=NOON - timedelta(hours=1)
    )
    flown = flight(cast, gone)
    rows.due(cast.left, evidence=[{"kind": "flight", "root": str(flown.root), "words": "9 June"}])
    notices.plan(NOON)
    assert told() == {("Ines", "nudge")}


def test_planning_twice_writes_nothing_more(cast: Cast) -> None:
    rows.finding(cast.left)
    rows.due(cast.right, "call")
    first = notices.plan(NOON)
    again = notices.plan(NOON + timedelta(minutes=30))
    assert first.new == Notice.objects.count() > 0
    assert again == notices.Planned(0, False)


def test_a_new_version_of_the_rule_tells_nobody_again(cast: Cast) -> None:
    found = rows.finding(cast.left)
    notices.plan(NOON)
    Finding.objects.filter(pk=found.pk).update(rule_version=2, text="Said in other words.")
    assert notices.plan(NOON).new == 0


def test_after_a_sale_the_new_owner_is_told_and_the_old_one_is_not(cast: Cast) -> None:
    buyer = rows.sell(cast.aircraft, NOON - timedelta(days=1))
    rows.due(cast.left)
    notices.plan(NOON)
    assert told() == {(buyer.name, "nudge")}


def test_only_the_shop_hears_of_an_engine_that_sits_in_no_aircraft(cast: Cast) -> None:
    preserved = rows.build()
    rows.due(preserved, "call", kind="preservation", title="Preservation ends")
    notices.plan(NOON)
    assert told() == {("Pell", "chase"), ("Pell", "call"), ("Tilde", "call")}


def test_a_person_without_email_gets_a_phone_notice_and_the_technician_is_told_to_phone(cast: Cast) -> None:
    Person.objects.filter(pk=cast.owner.pk).update(email="", phone="555 0199")
    rows.due(cast.left)
    notices.plan(NOON)
    owner, technician = Notice.objects.get(recipient=cast.owner), Notice.objects.get(recipient=cast.technician)
    assert (owner.channel, owner.state) == ("phone", NoticeState.PHONE)
    assert technician.state == NoticeState.WAITING
    assert "Phone Ines" in technician.headline
    assert "555 0199" in technician.text


def messages_sent(cast: Cast, *ages: timedelta) -> None:
    for age in ages:
        Message.objects.create(
            key=f"{age}",
            recipient=cast.owner,
            address=cast.owner.email,
            message_id=f"<{age}>",
            subject="x",
            text="x",
            state="sent",
            created_at=NOON - age,
            sent_at=NOON - age,
        )


def test_who_gave_no_sign_since_two_messages_is_phoned_as_well(cast: Cast) -> None:
    messages_sent(cast, timedelta(days=5), timedelta(days=2))
    rows.due(cast.left)
    notices.plan(NOON)
    assert set(Notice.objects.filter(recipient=cast.owner).values_list("channel", flat=True)) == {"email", "phone"}
    assert "did not answer two messages" in Notice.objects.get(recipient=cast.technician).text


@pytest.mark.parametrize("sign", ["sign-in", "log", "one message", "message of today"])
def test_who_gave_a_sign_or_had_no_time_to_is_not_phoned(cast: Cast, sign: str) -> None:
    messages_sent(cast, timedelta(days=5), timedelta(hours=3) if sign == "message of today" else timedelta(days=2))
    if sign == "one message":
        Message.objects.first().delete()  # type: ignore[union-attr]
    if sign == "sign-in":
        cast.owner.user = User.objects.create_user("ines@login.example.test", last_login=NOON - timedelta(days=3))
        cast.owner.save()
    if sign == "log":
        flight(cast, cast.owner)
    rows.due(cast.left)
    notices.plan(NOON)
    assert told() == {("Ines", "nudge")}
    assert Notice.objects.get().channel == "email"


def test_in_a_shop_without_line_technician_the_manager_chases(cast: Cast) -> None:
    ShopRole.objects.filter(role=Role.LINE_TECHNICIAN).update(until=NOON - timedelta(days=1))
    rows.due(cast.left, "chase")
    notices.plan(NOON)
    assert told(level="chase") == {("Tilde", "chase")}


def test_a_notice_waits_for_the_end_of_quiet_hours_and_a_stop_does_not(cast: Cast) -> None:
    night = datetime(2026, 6, 11, 4, 0, tzinfo=UTC)  # 22:00 at UTC-6
    rows.due(cast.left)
    rows.finding(cast.right, opened_at=night)
    notices.plan(night)
    nudge, stop = Notice.objects.get(level="nudge"), Notice.objects.filter(level="stop").first()
    assert nudge.not_before == datetime(2026, 6, 11, 13, 0, tzinfo=UTC)  # 07:00 at UTC-6
    assert stop is not None
    assert stop.not_before == night


def test_a_stop_nobody_answered_for_a_working_hour_is_told_to_the_manager_once_more(cast: Cast) -> None:
    rows.finding(cast.left, opened_at=NOON)
    notices.plan(NOON)
    assert notices.plan_fresh(NOON + timedelta(minutes=59)).new == 0
    assert notices.plan_fresh(NOON + timedelta(minutes=61)).new == 1
    assert told(level="manager") == {("Tilde", "manager")}


def test_an_acknowledged_stop_is_not_told_to_the_manager_once_more(cast: Cast) -> None:
    rows.finding(cast.left, opened_at=NOON, state=FindingState.ACKNOWLEDGED)
    notices.plan(NOON + timedelta(hours=3))
    assert not told(level="manager")


def test_working_time_counts_neither_night_nor_weekend(cast: Cast) -> None:
    friday_evening = datetime(2026, 6, 12, 23, 30, tzinfo=UTC)  # 17:30
    monday_morning = datetime(2026, 6, 15, 14, 20, tzinfo=UTC)  # 08:20
    assert worked(friday_evening, monday_morning) == timedelta(minutes=50)


def test_planning_of_what_is_new_finds_what_a_lost_task_left_untold(cast: Cast) -> None:
    rows.finding(cast.left, Severity.CALL)
    rows.due(cast.right, "chase")
    assert notices.plan_fresh(NOON).new == 4
    assert notices.plan_fresh(NOON).new == 0


def test_a_notice_is_answered_by_the_fact_that_closes_its_due_item(cast: Cast) -> None:
    item = rows.due(cast.left)
    notices.plan(NOON)
    rows.answer(item, NOON + timedelta(hours=2))
    notices.plan(NOON + timedelta(hours=3), [cast.left.pk])
    assert Notice.objects.get().answered_at == NOON + timedelta(hours=2)


def test_a_notice_of_a_finding_is_answered_when_a_technician_clears_it(cast: Cast) -> None:
    found = rows.finding(cast.left)
    notices.plan(NOON)
    Finding.objects.filter(pk=found.pk).update(state=FindingState.CLEARED, closed_at=NOON + timedelta(hours=1))
    assert notices.mark_answered(NOON, [cast.right.pk]) == 0
    assert notices.mark_answered(NOON, [cast.left.pk]) == 3


def test_a_key_too_long_for_its_column_is_shortened_and_stays_unique(cast: Cast) -> None:
    for ending in "ab":
        rows.due(cast.left, rule="N" * 40, occurrence="o" * 119 + ending)
    Person.objects.filter(pk=cast.owner.pk).update(email="")
    notices.plan(NOON)
    keys = set(Notice.objects.values_list("key", flat=True))
    assert len(keys) == 4
    assert max(map(len, keys)) <= KEY_LENGTH


def test_planning_for_many_builds_takes_a_fixed_number_of_queries(
    cast: Cast, django_assert_max_num_queries: pytest.FixtureRequest
) -> None:
    more = [rows.build() for _ in range(12)]
    for each in more:
        rows.due(each, "call")
    with django_assert_max_num_queries(14):  # type: ignore[operator]
        notices.plan(NOON)
    assert mail.outbox == []
    assert DueItem.objects.count() == 12


def flight(cast: Cast, pilot: Person) -> Flight:
    root = uuid4()
    return Flight.objects.create(
        client_id=root,
        root=root,
        content_hash="x",
        aircraft=cast.aircraft,
        pilot=pilot,
        airborne_min=60,
        happened_at=NOON - timedelta(days=1),
        local_date=(NOON - timedelta(days=1)).date(),
        zone="UTC",
        received_at=NOON - timedelta(days=1),
        entered_by=pilot,
        source="portal",
        grade="B",
    )
