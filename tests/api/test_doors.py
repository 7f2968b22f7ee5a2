"""Each door of the programming interface: who gets through, what comes back."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.test import Client
from django.utils import timezone
from rest_framework.throttling import UserRateThrottle

from breakin import assess
from breakin.models import Flight, Lane, OilEvent
from shop.models import ApiToken, User
from shop.services import create_token, revoke_token
from tests import factories
from tests.api.doors import a_flight, a_reading, said, user_of

pytestmark = pytest.mark.django_db


def judged(shop: factories.Cast) -> None:
    for build in (shop.build_1, shop.build_2):
        assess.assess_build(build.pk, timezone.now())


class TestMe:
    def test_says_who_is_asking(self, shop: factories.Cast, api) -> None:
        answer = api(shop.cora, "read").get("me/").json()

        assert answer["email"] == "cora@example.org"
        assert answer["roles"] == ["manager"]
        assert answer["scope"] == "read"
        assert answer["person"] | {"id": 0} == {
            "id": 0, "name": "Cora", "email": "cora@example.org", "units": "us", "zone": "Etc/GMT+6", "language": "en",
        }  # fmt: skip

    def test_a_user_without_a_person_is_told_so(self, client: Client) -> None:
        client.force_login(User.objects.create_user("bare@example.org", "x"))

        assert client.get("/api/v1/me/").json()["person"] is None


class TestTokens:
    def test_a_secret_opens_and_only_its_digest_is_kept(self, shop: factories.Cast, api) -> None:
        token, secret = create_token(user=user_of(shop.ada), name="t", scope="read", now=timezone.now())

        assert secret not in str(ApiToken.objects.filter(pk=token.pk).values().get())
        assert api(shop.ada).get("me/").status_code == 200

    def test_its_use_is_noted(self, shop: factories.Cast, api) -> None:
        api(shop.ada).get("me/")

        assert ApiToken.objects.get(user=user_of(shop.ada)).last_used_at is not None

    @pytest.mark.parametrize("end", ["expired", "revoked", "switched off"])
    def test_one_that_ended_opens_nothing(self, shop: factories.Cast, client: Client, end: str) -> None:
        now = timezone.now()
        expires = now + timedelta(days=1)
        token, secret = create_token(user=user_of(shop.ada), name="t", scope="read", expires=expires, now=now)
        if end == "expired":
            ApiToken.objects.update(expires_at=now)
        elif end == "revoked":
            revoke_token(by=shop.ada, token=token, now=now)
        else:
            User.objects.filter(pk=token.user_id).update(is_active=False)

        answer = client.get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"})

        assert answer.status_code == 401
        assert answer.headers["WWW-Authenticate"] == "Bearer"
        assert "unknown, revoked or expired" in said(answer)[""]

    @pytest.mark.parametrize("header", ["Bearer", "Bearer a b", "Bearer \xff\xfe", "Bearer rib_nope"])
    def test_a_header_that_is_none_is_refused(self, client: Client, db, header: str) -> None:
        answer = client.get("/api/v1/me/", headers={"Authorization": header})

        assert answer.status_code == 401
        assert answer.json()["code"] == "unauthenticated"

    def test_one_that_may_read_does_not_write(self, shop: factories.Cast, api) -> None:
        ada = api(shop.ada, "read")
        flight = a_flight(shop.build_1.engine, "QX-901")

        answer = ada.post("flights/", flight)

        assert answer.status_code == 403
        assert "only read" in said(answer)[""]
        assert not Flight.objects.exists()


class TestSession:
    def test_a_signed_in_page_may_read(self, shop: factories.Cast, client: Client) -> None:
        client.force_login(user_of(shop.ada))

        assert client.get("/api/v1/me/").status_code == 200

    def test_a_form_of_another_site_may_not_write(self, shop: factories.Cast) -> None:
        browser = Client(enforce_csrf_checks=True)
        browser.force_login(user_of(shop.ada))
        flight = a_flight(shop.build_1.engine, "QX-901")

        refused = browser.post("/api/v1/flights/", flight, content_type="application/json")
        browser.get("/accounts/password/change/")
        token = browser.cookies["csrftoken"].value
        taken = browser.post(
            "/api/v1/flights/", flight, content_type="application/json", headers={"X-CSRFToken": token}
        )

        assert refused.status_code == 403
        assert "CSRF" in said(refused)[""]
        assert taken.status_code == 201


class TestLogAFlight:
    def test_is_kept_once_and_a_resend_is_harmless(self, shop: factories.Cast, api) -> None:
        ada, flight = api(shop.ada), a_flight(shop.build_1.engine, "qx-901")

        first, second = ada.post("flights/", flight), ada.post("flights/", flight)

        assert (first.status_code, second.status_code) == (201, 200)
        assert first.json()["created"] is True
        assert second.json()["created"] is False
        assert first.json()["root"] == second.json()["root"] == flight["client_id"]
        kept = Flight.objects.get()
        assert (kept.airborne_min, kept.source, kept.entered_by) == (72, "api", shop.ada)
        assert OilEvent.objects.get().level_qt == 6.5

    def test_a_resend_with_other_content_is_refused(self, shop: factories.Cast, api) -> None:
        ada, flight = api(shop.ada), a_flight(shop.build_1.engine, "QX-901")
        ada.post("flights/", flight)

        answer = ada.post("flights/", flight | {"landings": 3})

        assert answer.status_code == 409
        assert answer.json()["code"] == "conflict"
        assert "client_id" in said(answer)
        assert Flight.objects.get().landings is None

    def test_what_looks_like_the_same_flight_is_kept_and_said(self, shop: factories.Cast, api) -> None:
        ada, flight = api(shop.ada), a_flight(shop.build_1.engine, "QX-901", engine={"oil": []})
        ada.post("flights/", flight)
        moved = flight | {"client_id": "11111111-1111-4111-8111-111111111111", "note": "typed again"}
        moved["engines"] = [{"engine_id": shop.build_1.engine_id, "oil": []}]

        answer = ada.post("flights/", moved)

        assert answer.status_code == 201, answer.content
        assert answer.json()["possible_duplicate"] is True

    def test_a_stop_comes_back_at_once_and_again_with_a_resend(self, shop: factories.Cast, api) -> None:
        hot = {"oil_press_min": 5, "oil_press_idle": 5}
        ada, flight = api(shop.ada), a_flight(shop.build_1.engine, "QX-901", engine=hot)
        first = ada.post("flights/", flight)
        if first.status_code == 400:
            assert first.json()["code"] == "confirm", first.content
            flight["confirmed"] = list(said(first))
            first = ada.post("flights/", flight)

        again = ada.post("flights/", flight)

        assert first.status_code == 201, first.content
        assert [row["severity"] for row in first.json()["stops"]] == ["stop"] * len(first.json()["stops"])
        assert first.json()["stops"], "oil pressure below the type's limit is a Stop"
        assert again.json()["stops"] == first.json()["stops"]

    def test_an_unusual_value_is_asked_about_and_taken_once_confirmed(self, shop: factories.Cast, api) -> None:
        ada, flight = api(shop.ada), a_flight(shop.build_1.engine, "QX-901", engine={"meter_end": 106.5, "oil": []})
        flight["airborne"] = "6:20"

        asked = ada.post("flights/", flight)
        assert (asked.status_code, asked.json()["code"]) == (400, "confirm"), asked.content
        assert not Flight.objects.exists()
        taken = ada.post("flights/", flight | {"confirmed": list(said(asked))})

        assert taken.status_code == 201, taken.content

    def test_a_technician_logs_for_a_customer(self, shop: factories.Cast, api) -> None:
        answer = api(shop.tom).post("flights/", a_flight(shop.build_1.engine, "QX-901"))

        assert answer.status_code == 201, answer.content
        assert Flight.objects.get().entered_by == shop.tom


class TestAddOil:
    def test_a_reading_gets_its_advice(self, shop: factories.Cast, api) -> None:
        path, reading = f"engines/{shop.build_1.engine_id}/oil/", a_reading(level="3,5")
        ada = api(shop.ada)

        first, second = ada.post(path, reading), ada.post(path, reading)

        assert (first.status_code, second.status_code) == (201, 200), first.content
        assert OilEvent.objects.get().level_qt == 3.5
        assert first.json()["advice"]["code"] == "below_no_go", "3.5 qt is below the 4 qt that the aircraft needs"
        assert second.json()["advice"] == first.json()["advice"]

    def test_a_changed_resend_is_refused(self, shop: factories.Cast, api) -> None:
        path, reading, ada = f"engines/{shop.build_1.engine_id}/oil/", a_reading(), api(shop.ada)
        ada.post(path, reading)

        assert ada.post(path, reading | {"level": 5}).status_code == 409

    def test_draining_is_for_a_technician(self, shop: factories.Cast, api) -> None:
        path = f"engines/{shop.build_1.engine_id}/oil/"
        drain = a_reading(kind="drain_fill", drained=7, filled=8, filter_changed=True, oil_kind="mineral")
        drain.pop("level"), drain.pop("minutes_since_shutdown")

        refused, taken = api(shop.ada).post(path, drain), api(shop.tom).post(path, drain)

        assert refused.status_code == 403, refused.content
        assert taken.status_code == 201, taken.content


class TestRead:
    def test_the_board_is_for_the_shop(self, shop: factories.Cast, api) -> None:
        rows = api(shop.tom).get("board/").json()["rows"]

        assert {row["engine_id"] for row in rows} == {shop.build_1.engine_id, shop.build_2.engine_id}
        assert api(shop.ada).get("board/").status_code == 403

    def test_the_board_is_narrowed_and_paged_by_key(self, shop: factories.Cast, api, monkeypatch) -> None:
        tom = api(shop.tom)
        judged(shop)
        monkeypatch.setattr("reports.api.PAGE", 1)

        first = tom.get("board/").json()
        second = tom.get("board/", after=first["next_after"]).json()

        assert first["rows"] != second["rows"]
        assert second["next_after"] is None
        monkeypatch.undo()
        assert [row["registration"] for row in tom.get("board/", q="qx-902").json()["rows"]] == ["QX-902"]
        lane = first["rows"][0]["lane"]
        found = [tom.get("board/", lane=each.value).json()["rows"] for each in Lane if each.label == lane]
        assert first["rows"][0] in found[0]

    @pytest.mark.parametrize("query", [{"lane": "two"}, {"lane": "99"}, {"lane": ""}, {"q": "\x00"}, {"after": "\x00"}])
    def test_a_query_that_cannot_be_is_refused_by_name(self, shop: factories.Cast, api, query) -> None:
        answer = api(shop.tom).get("board/", **query)

        assert answer.status_code == 400
        assert list(said(answer)) == list(query)

    def test_one_engine_with_its_judgement(self, shop: factories.Cast, api) -> None:
        api(shop.ada).post("flights/", a_flight(shop.build_1.engine, "QX-901"))
        judged(shop)

        answer = api(shop.ada).get(f"engines/{shop.build_1.engine_id}/").json()

        assert answer["serial"] == shop.build_1.engine.serial
        assert answer["current"]["registration"] == "QX-901"
        assert answer["current"]["build_id"] == shop.build_1.pk

    def test_what_is_due_is_everybodys_for_the_shop_and_ones_own_for_an_owner(self, shop: factories.Cast, api) -> None:
        for build in (shop.build_1, shop.build_2):
            factories.flown(build, 3, at=timezone.now() - timedelta(days=20))
        judged(shop)

        every = api(shop.tom).get("due/").json()["rows"]
        own = api(shop.ada).get("due/").json()["rows"]

        assert {row["engine_id"] for row in every} == {shop.build_1.engine_id, shop.build_2.engine_id}
        assert {row["engine_id"] for row in own} == {shop.build_1.engine_id}
        later = api(shop.tom).get("due/", after=every[0]["id"]).json()["rows"]
        assert [row["id"] for row in later] == [row["id"] for row in every[1:]]


class TestErrors:
    def test_an_address_that_is_not_there(self, shop: factories.Cast, api) -> None:
        for path in ("nothing/", "engines/x/", ""):
            answer = api(shop.ada).get(path)
            assert (answer.status_code, answer.json()["code"]) == (404, "not_found"), path

    def test_a_way_of_asking_that_is_not_there(self, shop: factories.Cast, api) -> None:
        answer = api(shop.ada).post("me/", {})

        assert (answer.status_code, answer.json()["code"]) == (405, "method")

    @pytest.mark.parametrize(
        ("body", "kind", "code"),
        [
            ("{not json", "application/json", 400),
            ("[]", "application/json", 400),
            ('"text"', "application/json", 400),
            ("null", "application/json", 400),
            ("a=b", "application/x-www-form-urlencoded", 415),
        ],
    )
    def test_a_body_that_cannot_be_read(self, shop: factories.Cast, api, body: str, kind: str, code: int) -> None:
        client = api(shop.ada).client

        answer = client.generic("POST", "/api/v1/flights/", body, content_type=kind)

        assert answer.status_code == code
        assert said(answer)

    def test_too_many_requests(self, shop: factories.Cast, api, monkeypatch) -> None:
        monkeypatch.setattr(UserRateThrottle, "THROTTLE_RATES", {"user": "2/min"})
        ada = api(shop.ada)
        ada.get("me/"), ada.get("me/")

        answer = ada.get("me/")

        assert answer.status_code == 429
        assert answer.json()["code"] == "slow_down"
        assert "Try again in" in said(answer)[""]
        assert int(answer.headers["Retry-After"]) <= 60

    def test_nobody_is_answered_without_signing_in(self, client: Client, db) -> None:
        for path in ("me/", "board/", "due/", "engines/1/", "nothing/"):
            answer = client.get(f"/api/v1/{path}")
            assert answer.status_code == 401, path
            assert said(answer)
