"""The pages of a close-out: what lacks and what mends it, the second look, sealed files, and a file in hand."""

from __future__ import annotations

import hashlib
import json
from datetime import date, timedelta
from typing import Any

import pytest
from django.core.files.uploadedfile import SimpleUploadedFile

from breakin import assess
from breakin.closeout.document import drafted
from breakin.closeout.hardware import hardware
from breakin.load import load
from breakin.models import CloseOutFile, CloseOutProposal, FlightEngine, Waiver
from breakin.services import closing
from breakin.services.builds import record_cell_run
from engines.models import Build, Holding
from reports.closeout import iron
from tests import factories
from tests.again import made_again
from tests.factories import NOW, Cast, closed_out, flown
from tests.reports.acts import error_at

pytestmark = [pytest.mark.django_db, pytest.mark.usefixtures("today")]
EARLIER = NOW - timedelta(hours=3)


def settled_shop() -> Cast:
    """Nine flights of the first build that lose a tenth of a quart each."""
    shop = factories.cast()
    for number in range(9):
        flown(shop.build_1, 1.2, level_qt=6.5 - 0.1 * number, cht_max=390)
    assess.assess_build(shop.build_1.pk, EARLIER)
    return shop


@pytest.fixture
def shop(request: pytest.FixtureRequest) -> Cast:
    return made_again(settled_shop) if "build" in request.fixturenames else factories.cast()


@pytest.fixture
def build(shop: Cast) -> Build:
    return shop.build_1


@pytest.fixture
def sealed(build: Build, shop: Cast) -> CloseOutFile:
    file = closed_out(build, now=EARLIER, proposer=shop.tom, signer=shop.cora, reservation="Winter kit fitted.")
    assess.assess_build(build.pk, EARLIER)
    return file


def at(build: Build, act: str = "") -> str:
    return f"/shop/builds/{build.pk}/close/{act}"


def text_of(answer: Any) -> str:
    return str(answer.content.decode())


class TestReadiness:
    def test_each_thing_that_lacks_has_a_link_that_mends_it(self, build: Build, shop: Cast, as_person: Any) -> None:
        page = text_of(as_person(shop.tom).get(at(build)))
        assert "3 lacking" in page
        due = build.due_items.get(kind="oil_filter")
        assert f'href="/due/{due.pk}/complete/"' in page
        assert f'href="/portal/aircraft/{shop.aircraft_1.pk}/log/"' in page
        assert "Waive with a reason" not in page

    def test_a_manager_waives_with_a_reason_that_is_shown_here_and_on_the_engine(
        self, build: Build, shop: Cast, as_person: Any
    ) -> None:
        client = as_person(shop.cora)
        assert "Waive with a reason" in text_of(client.get(at(build)))
        assert "The reason is missing" in error_at(client.post(at(build, "waive/filter/"), {}), "reason")
        assert client.post(at(build, "waive/filter/"), {"reason": "Cut at the field."}).status_code == 302
        assess.assess_build(build.pk, NOW)
        for url in (at(build), f"/engines/{build.engine_id}/"):
            assert "Cut at the field." in text_of(client.get(url))
        assert "Cut at the field." in text_of(as_person(shop.ada).get(f"/engines/{build.engine_id}/"))
        assert client.post(at(build, "waive/hours/"), {"reason": "x"}).status_code in (403, 422)
        assert Waiver.objects.count() == 1

    def test_a_waiver_is_taken_back_on_the_same_page(self, build: Build, shop: Cast, as_person: Any) -> None:
        client = as_person(shop.cora)
        client.post(at(build, "waive/filter/"), {"reason": "Cut at the field."})
        assert "Ask for it again" in text_of(client.get(at(build, "waive/filter/")))
        client.post(at(build, "waive/filter/"), {"reason": "It was another one."})
        assert [row.granted for row in Waiver.objects.order_by("id")] == [True, False]

    def test_there_is_no_page_to_waive_what_is_no_criterion(self, build: Build, shop: Cast, as_person: Any) -> None:
        assert as_person(shop.cora).get(at(build, "waive/crocus/")).status_code == 404


class TestSecondLook:
    def test_a_technician_proposes_and_a_manager_seals_what_the_page_shows(
        self, build: Build, shop: Cast, as_person: Any
    ) -> None:
        for row in drafted(build, None, NOW).review.lacking:
            closing.waive(by=shop.cora, build=build, criterion=row.key, reason="By hand.", now=EARLIER)
        tom = as_person(shop.tom)
        assert "Say it in a few words" in text_of(tom.post(at(build), {}))
        assert tom.post(at(build), {"notes": "Flat since 6 h.", "reservations": "Winter kit."}).status_code == 302
        look = text_of(tom.get(at(build, "file/")))
        assert "Sign and seal" not in look
        assert tom.post(at(build, "file/"), {"looked": "on"}).status_code == 403

        cora = as_person(shop.cora)
        look = text_of(cora.get(at(build, "file/")))
        for words in ("Flat since 6 h.", "Winter kit.", "Every flight and ground run that counts", "<svg", "By hand."):
            assert words in look, words
        proposal = CloseOutProposal.objects.get()
        seen = drafted(build, proposal, NOW).seen
        assert f'value="{seen}"' in look
        assert "Look at the whole file first" in error_at(cora.post(at(build, "file/"), {"seen": seen}), "looked")
        answer = cora.post(at(build, "file/"), {"seen": seen, "looked": "on"})
        file = CloseOutFile.objects.get()
        assert answer["Location"] == f"/close-outs/{file.pk}/"
        with file.print.open() as held:
            assert held.read(5) == b"%PDF-"
        assert "It is not a maintenance release" in text_of(cora.get(answer["Location"]))

    def test_the_page_shows_the_new_facts_when_they_moved(self, build: Build, shop: Cast, as_person: Any) -> None:
        for row in drafted(build, None, NOW).review.lacking:
            closing.waive(by=shop.cora, build=build, criterion=row.key, reason="By hand.", now=EARLIER)
        proposal = closing.propose(by=shop.tom, build=build, notes="Flat.", now=EARLIER)
        seen = drafted(build, proposal, NOW).seen
        flown(build, 1.2, level_qt=5.6, at=NOW - timedelta(hours=1))
        cora = as_person(shop.cora)
        answer = cora.post(at(build, "file/"), {"seen": seen, "looked": "on"})
        assert answer.status_code == 422
        assert "The evidence moved" in text_of(answer)
        again = drafted(build, proposal, NOW).seen
        assert again != seen
        assert f'value="{again}"' in text_of(answer)

    def test_a_proposal_is_given_back_with_its_reason(self, build: Build, shop: Cast, as_person: Any) -> None:
        closing.propose(by=shop.tom, build=build, notes="Flat.", now=EARLIER)
        cora = as_person(shop.cora)
        assert cora.post(at(build, "return/"), {"reason": "Cut the filter first."}).status_code == 302
        assert "Cut the filter first." in text_of(cora.get(at(build)))
        assert "No proposal waits." in text_of(cora.get(at(build, "return/")))

    def test_who_proposed_is_told_that_another_signs(self, build: Build, shop: Cast, as_person: Any) -> None:
        closing.propose(by=shop.cora, build=build, notes="Flat.", now=EARLIER)
        assert "another manager signs" in text_of(as_person(shop.cora).get(at(build)))


class TestSealedFiles:
    def test_the_owner_takes_both_parts_along_byte_for_byte(
        self, sealed: CloseOutFile, shop: Cast, as_person: Any
    ) -> None:
        ada = as_person(shop.ada)
        for url in (f"/engines/{sealed.build.engine_id}/", f"/portal/aircraft/{shop.aircraft_1.pk}/"):
            assert f'href="/close-outs/{sealed.pk}/print.pdf"' in text_of(ada.get(url)), url
        document = b"".join(ada.get(f"/close-outs/{sealed.pk}/document.json"))
        printed = b"".join(ada.get(f"/close-outs/{sealed.pk}/print.pdf"))
        assert hashlib.sha256(document).hexdigest() == sealed.document_sha256
        assert hashlib.sha256(printed).hexdigest() == sealed.print_sha256

    def test_nobody_else_has_it_and_who_buys_the_aircraft_asks_the_shop(
        self, sealed: CloseOutFile, shop: Cast, as_person: Any
    ) -> None:
        paths = [f"/close-outs/{sealed.pk}/{part}" for part in ("", "document.json", "print.pdf")]
        Holding.objects.filter(aircraft=shop.aircraft_1).update(until=NOW - timedelta(hours=1))
        Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=NOW - timedelta(hours=1))
        for path in paths:
            assert as_person(shop.ben).get(path).status_code == 404, path
            answer = as_person(shop.ada).get(path)
            assert answer.status_code == 200, path
            assert b"".join(answer)

    def test_the_interface_lists_them_and_hands_out_the_sealed_bytes(
        self, sealed: CloseOutFile, shop: Cast, as_person: Any
    ) -> None:
        ada = as_person(shop.ada)
        [row] = ada.get(f"/api/v1/engines/{sealed.build.engine_id}/close-outs/").json()
        assert (row["number"], row["signed_by"], row["document_sha256"]) == (1, "Cora", sealed.document_sha256)
        document = b"".join(ada.get(f"/api/v1/close-outs/{row['id']}/document/"))
        assert hashlib.sha256(document).hexdigest() == sealed.document_sha256
        assert as_person(shop.ben).get(f"/api/v1/close-outs/{row['id']}/document/").status_code == 404


class TestInHand:
    def check(self, client: Any, **typed: Any) -> str:
        return text_of(client.post("/close-outs/check/", typed))

    def test_a_file_is_known_by_its_bytes_and_its_sum(self, sealed: CloseOutFile, shop: Cast, as_person: Any) -> None:
        tom = as_person(shop.tom)
        with sealed.document.open() as held:
            content = held.read()
        page = self.check(tom, upload=SimpleUploadedFile("a.json", content))
        assert "This is the sealed document" in page
        assert f'href="/close-outs/{sealed.pk}/"' in page
        spaced = " ".join(sealed.print_sha256[n : n + 8] for n in range(0, 64, 8)).upper()
        page = self.check(tom, pasted=spaced)
        assert "This is the sealed print" in page
        assert "signed by Cora" in page

    def test_one_changed_letter_is_not_the_file(self, sealed: CloseOutFile, shop: Cast, as_person: Any) -> None:
        with sealed.document.open() as held:
            forged = held.read().replace(b'"hours":10.8', b'"hours":11.8')
        page = self.check(as_person(shop.tom), upload=SimpleUploadedFile("a.json", forged))
        assert "Not a file of this shop" in page

    def test_who_may_not_see_it_learns_nothing_of_it(self, sealed: CloseOutFile, shop: Cast, as_person: Any) -> None:
        page = self.check(as_person(shop.ben), pasted=sealed.document_sha256)
        assert "Not a file of this shop" in page
        assert "Cora" not in page

    def test_what_is_no_sum_is_said_at_its_field(self, shop: Cast, as_person: Any) -> None:
        tom = as_person(shop.tom)
        answer = tom.post("/close-outs/check/", {"pasted": "abc"})
        assert answer.status_code == 422
        assert "This is not a SHA-256" in error_at(answer, "pasted")
        assert "Choose a file" in error_at(tom.post("/close-outs/check/", {}), "upload")


def test_the_file_says_what_went_in_where_it_sits_and_how_it_ran_in_the_cell(shop: Cast) -> None:
    """Barrel lots, hone, pistons, assembly lube, the map of the cylinders, fuel flow and leaks of the cell run."""
    revision = factories.type_revision("TAV-4M", cylinder_map=[[2, 1], [4, 3]])
    parts = factories.positions(4, barrel_lot="BL-9", hone_angle_deg=32.5, piston="P-77")
    build = factories.build(factories.engine(revision), by=shop.cora, positions=parts, assembly_lube="tacky grease")
    record_cell_run(
        by=shop.cora, build=build, run_on=date(2026, 6, 1), minutes=60, full_throttle_ff_gph=16.1,
        leaks="rocker cover 3", now=NOW,
    )  # fmt: skip
    document = json.loads(json.dumps(hardware(build, load([build.pk], NOW)[build.pk]), default=str))
    document["clocks"] = {
        "basis": "tach", "hours": 0.0, "total_time_h": None, "time_since_overhaul_at_build_h": None,
        "estimated_share": 0.0, "ground_min": 0.0, "cell_min": 60.0, "meters": [],
    }  # fmt: skip
    said = str(list(iron.sections(document)))

    for word in ("lot BL-9", "32.5°", "P-77", "tacky grease", "2 1, then 4 3", "16.1", "rocker cover 3"):
        assert word in said, word


def test_the_document_holds_every_part_of_the_file(sealed: CloseOutFile) -> None:
    """The shop's own list of what a close-out file must contain."""
    with sealed.document.open() as held:
        document = json.load(held)
    for part in (
        "engine", "build", "positions", "plan", "clocks", "installations", "flights", "oil_events", "oil_windows",
        "inspections", "findings", "criteria", "waivers", "corrections", "missing", "not_assessed", "follow_ups",
        "assessment", "versions", "proposed", "signed", "statement", "recordings", "cell_runs", "preservations",
        "storage",
    ):  # fmt: skip
        assert part in document, part
    assert len(document["flights"]) == FlightEngine.objects.filter(engine=sealed.build.engine).count() == 9
    assert [row["ring_lot"] for row in document["positions"]] == [""] * 4
    assert "not a maintenance release" in document["statement"]
    assert (document["proposed"]["by"], document["signed"]["by"]) == ("Tom", "Cora")
    assert document["file"]["reservations"][0] == "Winter kit fitted."
    assert any("oil analysis" in line for line in document["missing"])
    assert [(row["after_h"], row["after_days"]) for row in document["follow_ups"]] == [(10, 30), (25, 90), (50, 180)]
    assert document["follow_ups"][0]["at_h"] == 20.8
    assert factories.assessment(sealed.build).detail["oil"]["rate_qt_h"] == pytest.approx(
        document["assessment"]["oil"]["rate_qt_h"], abs=1e-6
    )
