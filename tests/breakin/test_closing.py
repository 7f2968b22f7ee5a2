"""Closing a break-in: two acts by two people, waivers, the sealed file, and what takes a closed break-in up again."""

from __future__ import annotations

import hashlib
import json
from datetime import timedelta
from typing import Any

import pytest
from django.core.files.storage import default_storage
from django.db import connection, transaction
from django.db.utils import DatabaseError

from breakin import assess
from breakin.closeout.canonical import canonical
from breakin.closeout.document import drafted
from breakin.entries import parse_oil
from breakin.models import Assessment, CloseOutFile, CloseOutProposal, Finding, Phase, Waiver
from breakin.services import closing
from breakin.services.closing import PrintOut
from breakin.services.corrections import correct_oil, withdraw_flight
from engines.models import Build, BuildEvent
from shop import guards
from shop.errors import Refusal
from shop.models import Role, ShopRole
from shop.version import VERSION
from tests import factories
from tests.again import made_again
from tests.factories import NOW, Cast, assessment, closed_out, flown, plain_print

pytestmark = pytest.mark.django_db
LATER = NOW + timedelta(days=1)


def settled_shop() -> Cast:
    """Nine flights of 1.2 h of the first build that lose a tenth of a quart each, no blocks, no filter."""
    shop = factories.cast()
    for number in range(9):
        flown(shop.build_1, 1.2, level_qt=6.5 - 0.1 * number, cht_max=390)
    assess.assess_build(shop.build_1.pk, NOW - timedelta(hours=1))
    return shop


def closed_shop() -> Cast:
    shop = settled_shop()
    closed_out(shop.build_1, now=NOW, proposer=shop.tom, signer=shop.cora)
    assess.assess_build(shop.build_1.pk, NOW)
    shop.build_1.refresh_from_db()
    return shop


@pytest.fixture
def shop(request: pytest.FixtureRequest) -> Cast:
    """As far as the test asks for it."""
    asked = request.fixturenames
    return made_again(closed_shop if "closed" in asked else settled_shop) if "settled" in asked else factories.cast()


@pytest.fixture
def settled(shop: Cast) -> Build:
    return shop.build_1


def waived(build: Build, shop: Cast, *but: str) -> None:
    for row in drafted(build, None, NOW).review.lacking:
        if row.key not in but:
            closing.waive(by=shop.cora, build=build, criterion=row.key, reason="Seen by hand.", now=NOW)


def proposed(build: Build, shop: Cast, **more: Any) -> CloseOutProposal:
    return closing.propose(by=shop.tom, build=build, notes="Oil flat.", now=NOW + timedelta(minutes=1), **more)


def signed(
    build: Build, proposal: CloseOutProposal, shop: Cast, *, seen: str = "", print_out: PrintOut = plain_print
) -> CloseOutFile:
    seen = seen or drafted(build, proposal, LATER).seen
    return closing.sign(by=shop.cora, proposal=proposal, seen=seen, print_out=print_out, now=LATER)


class TestWaivers:
    def test_a_manager_lets_a_criterion_stand_and_it_lacks_no_more(self, settled: Build, shop: Cast) -> None:
        closing.waive(by=shop.cora, build=settled, criterion="filter", reason="Cut at the field.", now=NOW)
        assess.assess_build(settled.pk, NOW)
        review = assessment(settled).detail["review"]
        assert "filter" not in [row["key"] for row in review["lacking"]]
        assert [(row["key"], row["reason"], row["by"]) for row in review["waived"]] == [
            ("filter", "Cut at the field.", "Cora")
        ]

    def test_it_can_be_asked_for_again(self, settled: Build, shop: Cast) -> None:
        closing.waive(by=shop.cora, build=settled, criterion="filter", reason="Cut at the field.", now=NOW)
        closing.ask_again(by=shop.cora, build=settled, criterion="filter", reason="It was another.", now=LATER)
        lacking = [row.key for row in drafted(settled, None, LATER).review.lacking]
        assert "filter" in lacking
        assert Waiver.objects.count() == 2
        with pytest.raises(Refusal, match="No waiver holds"):
            closing.ask_again(by=shop.cora, build=settled, criterion="filter", reason="again", now=LATER)

    def test_nobody_but_a_manager_waives_and_never_without_a_reason(self, settled: Build, shop: Cast) -> None:
        with pytest.raises(Refusal, match="A manager waives"):
            closing.waive(by=shop.tom, build=settled, criterion="filter", reason="x", now=NOW)
        with pytest.raises(Refusal, match="needs a reason"):
            closing.waive(by=shop.cora, build=settled, criterion="filter", reason=" ", now=NOW)

    def test_what_is_met_or_unknown_is_not_waived(self, settled: Build, shop: Cast) -> None:
        for criterion in ("hours", "nonsense"):
            with pytest.raises(Refusal, match="not lacking"):
                closing.waive(by=shop.cora, build=settled, criterion=criterion, reason="x", now=NOW)

    def test_an_open_call_is_never_waived(self, settled: Build, shop: Cast) -> None:
        flown(settled, 1.0, chips=["rough"], at=NOW - timedelta(days=2))
        with pytest.raises(Refusal, match="can't be waived"):
            closing.waive(by=shop.cora, build=settled, criterion="open", reason="x", now=NOW)

    def test_a_waiver_from_before_the_reopening_counts_no_more(self, settled: Build, shop: Cast) -> None:
        closed_out(settled, now=NOW, proposer=shop.tom, signer=shop.cora)
        closing.reopen(by=shop.cora, build=settled, reason="Smoke.", now=LATER)
        settled.refresh_from_db()
        assert "filter" in [row.key for row in drafted(settled, None, LATER).review.lacking]


class TestProposal:
    def test_a_proposal_puts_the_build_into_review(self, settled: Build, shop: Cast) -> None:
        proposed(settled, shop, reservations=["missed first two hours, settled anyway", " "])
        assess.assess_build(settled.pk, LATER)
        row = assessment(settled)
        assert row.phase == Phase.REVIEW
        assert row.detail["review"]["proposal"]["by"] == "Tom"
        assert CloseOutProposal.objects.get().reservations == ["missed first two hours, settled anyway"]

    def test_it_is_proposed_once(self, settled: Build, shop: Cast) -> None:
        proposed(settled, shop)
        with pytest.raises(Refusal, match="Tom proposed"):
            closing.propose(by=shop.cora, build=settled, notes="me too", now=LATER)

    def test_it_needs_notes_and_somebody_of_the_shop(self, settled: Build, shop: Cast) -> None:
        with pytest.raises(Refusal, match="What decided it"):
            closing.propose(by=shop.tom, build=settled, notes=" ", now=NOW)
        with pytest.raises(Refusal, match="by the shop"):
            closing.propose(by=shop.ada, build=settled, notes="mine", now=NOW)

    def test_a_stop_stands_in_its_way(self, settled: Build, shop: Cast) -> None:
        flown(settled, 1.0, oil_press_min=2, at=NOW - timedelta(days=2))
        with pytest.raises(Refusal, match="A Stop stands"):
            proposed(settled, shop)

    def test_given_back_it_can_be_proposed_anew(self, settled: Build, shop: Cast) -> None:
        first = proposed(settled, shop)
        with pytest.raises(Refusal, match="A manager gives"):
            closing.give_back(
                by=factories.person("Pell", role=Role.LINE_TECHNICIAN), proposal=first, reason="x", now=LATER
            )
        closing.give_back(by=shop.cora, proposal=first, reason="Cut the filter first.", now=LATER)
        assert closing.standing_proposal(settled) is None
        second = closing.propose(by=shop.tom, build=settled, notes="Cut.", now=LATER + timedelta(hours=1))
        assert closing.standing_proposal(settled) == second
        with pytest.raises(Refusal, match="no longer stands"):
            closing.give_back(by=shop.cora, proposal=first, reason="again", now=LATER)


class TestSigning:
    def test_two_people_seal_the_file_and_close_the_build(self, settled: Build, shop: Cast) -> None:
        waived(settled, shop)
        file = signed(settled, proposed(settled, shop), shop)
        settled.refresh_from_db()
        assert (settled.state, settled.closed_at) == ("closed", LATER)
        assert (file.number, file.proposed_by, file.signed_by, file.alone) == (1, shop.tom, shop.cora, False)
        assert file.software_version == VERSION
        event = BuildEvent.objects.filter(build=settled).latest("id")
        assert (event.kind, event.hours, event.reason) == ("closed_out", 10.8, "Oil flat.")
        assess.assess_build(settled.pk, LATER)
        assert assessment(settled).phase == Phase.FOLLOW_UP

    def test_the_sums_are_those_of_the_stored_bytes_and_anybody_can_work_them_out(
        self, settled: Build, shop: Cast
    ) -> None:
        file = closed_out(settled, now=NOW, proposer=shop.tom, signer=shop.cora)
        with file.document.open() as held:
            content = held.read()
        with file.print.open() as held:
            printed = held.read()
        assert hashlib.sha256(content).hexdigest() == file.document_sha256
        assert hashlib.sha256(printed).hexdigest() == file.print_sha256
        # As the document itself says how: read it, write it again with sorted keys and no spaces.
        again = json.dumps(json.loads(content), sort_keys=True, separators=(",", ":"), ensure_ascii=False).encode()
        assert again == content == canonical(json.loads(content))

    def test_the_proposer_does_not_sign(self, settled: Build, shop: Cast) -> None:
        waived(settled, shop)
        proposal = closing.propose(by=shop.cora, build=settled, notes="Flat.", now=NOW + timedelta(minutes=1))
        with pytest.raises(Refusal, match="a second person looks"):
            signed(settled, proposal, shop)

    def test_a_shop_of_one_signs_alone_and_the_file_says_so(self, settled: Build, shop: Cast) -> None:
        waived(settled, shop)
        ShopRole.objects.exclude(person=shop.cora).update(until=NOW - timedelta(days=1))
        proposal = closing.propose(by=shop.cora, build=settled, notes="Flat.", now=NOW + timedelta(minutes=1))
        file = signed(settled, proposal, shop)
        assert file.alone
        with file.document.open() as held:
            assert "only person" in json.load(held)["signed"]["words"]

    def test_a_technician_does_not_sign(self, settled: Build, shop: Cast) -> None:
        proposal = proposed(settled, shop)
        pell = factories.person("Pell", role=Role.LINE_TECHNICIAN)
        with pytest.raises(Refusal, match="A manager signs"):
            closing.sign(by=pell, proposal=proposal, seen="", print_out=plain_print, now=LATER)

    def test_what_lacks_and_is_not_waived_is_named_and_nothing_is_sealed(self, settled: Build, shop: Cast) -> None:
        waived(settled, shop, "leak")
        proposal = proposed(settled, shop)
        with pytest.raises(Refusal, match="not waived: Leak and torque look done"):
            signed(settled, proposal, shop)
        assert not CloseOutFile.objects.exists()

    def test_evidence_that_moved_since_the_look_is_looked_at_again(self, settled: Build, shop: Cast) -> None:
        waived(settled, shop)
        proposal = proposed(settled, shop)
        seen = drafted(settled, proposal, LATER).seen
        flown(settled, 1.2, level_qt=5.6, at=NOW + timedelta(hours=3))
        with pytest.raises(Refusal, match="The evidence moved"):
            signed(settled, proposal, shop, seen=seen)

    def test_a_print_that_fails_seals_nothing(self, settled: Build, shop: Cast) -> None:
        waived(settled, shop)
        proposal = proposed(settled, shop)

        def broken(document: dict[str, Any], sha256: str) -> bytes:
            raise ValueError("no ink")

        with pytest.raises(ValueError, match="no ink"):
            signed(settled, proposal, shop, print_out=broken)
        settled.refresh_from_db()
        assert settled.state == "open"

    def test_what_is_refused_at_the_last_moment_leaves_no_file_behind(
        self, settled: Build, shop: Cast, monkeypatch: pytest.MonkeyPatch
    ) -> None:
        waived(settled, shop)
        proposal = proposed(settled, shop)
        kept: list[str] = []
        save = default_storage.save

        def noted(name: str, held: Any) -> str:
            kept.append(save(name, held))
            return kept[-1]

        monkeypatch.setattr(default_storage, "save", noted)
        monkeypatch.setattr(closing, "end", _refuse)
        with pytest.raises(Refusal, match="another one"):
            signed(settled, proposal, shop)
        assert len(kept) == 2
        assert not any(default_storage.exists(name) for name in kept)

    def test_a_sealed_file_is_never_changed(self, settled: Build, shop: Cast) -> None:
        file = closed_out(settled, now=NOW, proposer=shop.tom, signer=shop.cora)
        with pytest.raises(DatabaseError, match="append-only"), transaction.atomic():
            CloseOutFile.objects.filter(pk=file.pk).update(number=2)

    def test_the_next_file_has_the_next_number_and_names_the_one_before(self, settled: Build, shop: Cast) -> None:
        first = closed_out(settled, now=NOW, proposer=shop.tom, signer=shop.cora)
        closing.reopen(by=shop.cora, build=settled, reason="Smoke.", now=LATER)
        settled.refresh_from_db()
        second = closed_out(settled, now=LATER + timedelta(days=1), proposer=shop.tom, signer=shop.cora)
        assert (first.number, second.number) == (1, 2)
        with second.document.open() as held:
            earlier = json.load(held)["build"]["earlier_files"]
        assert [(row["number"], row["sha256"]) for row in earlier] == [(1, first.document_sha256)]


def _refuse(*_: Any, **__: Any) -> None:
    raise Refusal.of("build", "another one", "conflict")


class TestEnding:
    def test_closed_incomplete_needs_a_reason_and_seals_nothing(self, settled: Build, shop: Cast) -> None:
        with pytest.raises(Refusal, match="needs a reason"):
            closing.close_incomplete(by=shop.cora, build=settled, reason=" ", now=NOW)
        closing.close_incomplete(by=shop.cora, build=settled, reason="sold abroad", now=NOW)
        settled.refresh_from_db()
        assert settled.state == "incomplete"
        assert not CloseOutFile.objects.exists()

    def test_a_closed_build_is_reopened_as_the_same_build_and_its_file_stays(self, settled: Build, shop: Cast) -> None:
        closed_out(settled, now=NOW, proposer=shop.tom, signer=shop.cora)
        closing.reopen(by=shop.cora, build=settled, reason="a quart in 3 h", now=NOW + timedelta(days=9))
        settled.refresh_from_db()
        assert (settled.state, settled.closed_at) == ("open", None)
        assert Assessment.objects.get(build=settled).reopened
        assert list(settled.events.values_list("kind", flat=True)) == ["opened", "closed_out", "reopened"]
        assert CloseOutFile.objects.filter(build=settled).count() == 1

    def test_a_closed_build_is_not_reopened_beside_another_one(self, settled: Build, shop: Cast) -> None:
        closed_out(settled, now=NOW, proposer=shop.tom, signer=shop.cora)
        factories.build(settled.engine, by=shop.cora, opened_at=LATER, now=LATER)
        with pytest.raises(Refusal, match="one at a time"):
            closing.reopen(by=shop.cora, build=settled, reason="a quart", now=LATER + timedelta(days=1))


class TestAfterwards:
    """Ada's engine is closed out at 10.8 h with a loss of 0.08 qt/h."""

    @pytest.fixture
    def closed(self, settled: Build) -> Build:
        return settled

    def _flown_on(self, build: Build, *levels: float) -> None:
        for number, level in enumerate(levels, start=1):
            at = NOW + timedelta(days=number)
            flown(build, 4.5, at=at, level_qt=level, cht_max=380)
            assess.assess_build(build.pk, at + timedelta(hours=1))

    def test_a_correction_is_shown_beside_the_file_with_what_would_differ(self, closed: Build, shop: Cast) -> None:
        last = closed.engine.flights.order_by("-flight__happened_at")[0].flight
        withdraw_flight(by=shop.tom, flight=last, reason="duplicate", now=LATER)
        assess.assess_build(closed.pk, LATER)
        found = Finding.objects.get(build=closed, rule="C1")
        assert "withdrawn" in found.text
        assert "9.6 h instead of 10.8 h" in found.text
        assert not found.for_customer
        assert assessment(closed).live

    def test_a_criterion_that_falls_reopens_the_build(self, closed: Build, shop: Cast) -> None:
        for row in closed.engine.flights.order_by("flight__happened_at")[3:]:
            withdraw_flight(by=shop.tom, flight=row.flight, reason="wrong_engine", now=LATER)
        assess.assess_build(closed.pk, LATER)
        closed.refresh_from_db()
        event = closed.events.latest("id")
        assert (closed.state, event.kind, event.by) == ("open", "reopened", None)
        assert event.detail["rule"] == "C2"
        assert "At least 8 h run" in event.reason
        assert assessment(closed).reopened
        assert CloseOutFile.objects.count() == 1

    def test_a_loss_that_goes_up_reopens_it_once(self, closed: Build, shop: Cast) -> None:
        self._flown_on(closed, 4.6, 4.0)
        closed.refresh_from_db()
        assert closed.state == "open"
        assert closed.events.filter(kind="reopened").count() == 1
        row = assessment(closed)
        assert (row.reopened, row.live) == (True, True)
        assert not assess.assess_build(closed.pk, NOW + timedelta(days=2, hours=2))
        assert closed.events.filter(kind="reopened").count() == 1

    def test_a_quiet_engine_stays_closed_and_its_follow_up_says_that_it_is_confirmed(self, closed: Build) -> None:
        self._flown_on(closed, 5.4, 5.1)
        closed.refresh_from_db()
        assert closed.state == "closed"
        follow_up = closed.due_items.filter(kind="follow_up").order_by("due_h")[0]
        assert "Confirming window: confirmed." in follow_up.text

    def test_it_is_not_reopened_beside_another_build_but_found_all_the_same(self, closed: Build, shop: Cast) -> None:
        first = closed.engine.flights.order_by("flight__happened_at")[0].flight
        factories.build(closed.engine, by=shop.cora, opened_at=LATER, now=LATER)
        for row in closed.engine.flights.exclude(flight=first)[:7]:
            withdraw_flight(by=shop.tom, flight=row.flight, reason="wrong_engine", now=LATER)
        assess.assess_build(closed.pk, LATER)
        closed.refresh_from_db()
        assert closed.state == "closed"
        assert Finding.objects.filter(build=closed, rule="C2").exists()

    def test_who_flew_on_service_oil_is_not_told_of_the_wrong_oil_when_it_is_reopened(
        self, closed: Build, shop: Cast
    ) -> None:
        factories.oil_event(
            closed, "drain_fill", at=NOW + timedelta(hours=4), by=shop.tom, drained=5, filled=6, oil_kind="ad"
        )
        closing.reopen(by=shop.cora, build=closed, reason="Smoke.", now=LATER)
        assess.assess_build(closed.pk, LATER)
        assert not Finding.objects.filter(build=closed, rule="O10").exists()

    def test_a_correction_of_oil_is_found_too(self, closed: Build, shop: Cast) -> None:
        event = closed.engine.oil_events.filter(kind="reading").order_by("happened_at")[2]
        raw = {
            "client_id": "6c1f7a3e-8f35-4a43-9d61-0c2f2f0d9a31", "engine_id": closed.engine_id, "kind": "reading",
            "happened_at": event.happened_at.isoformat(), "level": 6.0, "minutes_since_shutdown": 20,
            "level_ground": True, "wiped_twice": True, "when": "after", "flight_root": str(event.flight_root),
        }  # fmt: skip
        entry = parse_oil(raw, units="us", zone="UTC", now=LATER)
        correct_oil(by=shop.tom, event=event, entry=entry, reason="mistyped", now=LATER)
        assess.assess_build(closed.pk, LATER)
        assert "oil reading" in Finding.objects.get(build=closed, rule="C1").text


@pytest.mark.usefixtures("db")
def test_the_guards_hold_every_table_of_the_close_out() -> None:
    held = guards.installed(connection)
    for model in (CloseOutFile, CloseOutProposal, Waiver):
        assert model._meta.db_table in held
