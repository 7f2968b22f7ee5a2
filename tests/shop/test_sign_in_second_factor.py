"""Who works for the shop signs in with a second factor; owners and pilots may."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
import time_machine
from allauth.mfa.models import Authenticator
from allauth.mfa.totp.internal.auth import TOTP, format_hotp_value, hotp_value, yield_hotp_counters_from_time
from django.test import Client
from django.utils import timezone

from shop.models import Person, Role, ShopRole, User
from shop.services import create_token

pytestmark = pytest.mark.django_db

PASSWORD = "quince anvil harbour"
SET_UP = "/accounts/2fa/totp/activate/"


@pytest.fixture(autouse=True)
def _asked_for(settings) -> None:
    settings.SECOND_FACTOR_FOR_STAFF = True


@pytest.fixture
def cora() -> User:
    return person_with_role("cora", Role.MANAGER)


def person_with_role(name: str, role: str = "") -> User:
    user = User.objects.create_user(f"{name}@shop.example", PASSWORD)
    person = Person.objects.create(name=name, user=user, email=user.email)
    if role:
        ShopRole.objects.create(person=person, role=role)
    return user


def code_of(secret: str) -> str:
    return str(format_hotp_value(hotp_value(secret, next(iter(yield_hotp_counters_from_time())))))


def sign_in(client: Client, user: User):
    return client.post("/accounts/login/", {"login": user.email, "password": PASSWORD})


@pytest.mark.parametrize("role", [Role.MANAGER, Role.BUILD_TECHNICIAN, Role.LINE_TECHNICIAN, Role.SIGNATORY])
def test_staff_without_one_are_led_to_set_it_up_from_every_page(client: Client, role: str) -> None:
    sign_in(client, person_with_role("cora", role))

    for path in ("/", "/board/", "/portal/", "/no/such/page/"):
        answer = client.get(path)
        assert (answer.status_code, answer.headers.get("location")) == (302, SET_UP), path


def test_who_may_open_the_records_needs_one_too(client: Client) -> None:
    client.force_login(User.objects.create_superuser("root@shop.example", PASSWORD))

    assert client.get("/admin/").headers["location"] == SET_UP


@pytest.mark.parametrize("role", ["", Role.BREAK_IN_PILOT])
def test_owners_and_pilots_need_none(client: Client, role: str) -> None:
    sign_in(client, person_with_role("ada", role))

    assert client.get("/api/v1/me/").status_code == 200
    assert client.get("/no/such/page/").status_code == 404


def test_a_demo_run_asks_for_none(client: Client, cora: User, settings) -> None:
    settings.SECOND_FACTOR_FOR_STAFF = False
    sign_in(client, cora)

    assert client.get("/no/such/page/").status_code == 404
    assert client.get("/api/v1/me/").status_code == 200


def test_one_is_set_up_with_a_code_and_asked_for_at_the_next_sign_in(client: Client, cora: User) -> None:
    sign_in(client, cora)
    with time_machine.travel(timezone.now() + timedelta(minutes=6), tick=False):
        asked_again = client.get(SET_UP).headers["location"]
    assert asked_again.startswith("/accounts/reauthenticate/"), "long after the sign-in the password once more"
    assert client.get(SET_UP).status_code == 200, "right after it there is no sense in that"
    secret = client.session["mfa.totp.secret"]
    client.post(SET_UP, {"code": code_of(secret)})
    assert Authenticator.objects.filter(user=cora, type=Authenticator.Type.TOTP).exists()
    assert client.get("/no/such/page/").status_code == 404
    codes = client.get("/accounts/2fa/recovery-codes/generate/")
    assert "reauthenticate" in codes.headers["location"], "with a factor in force everything else asks as before"

    other = Client()
    asked = sign_in(other, cora)
    assert asked.headers["location"].startswith("/accounts/2fa/authenticate/")
    assert "_auth_user_id" not in other.session, "the password alone does not sign in"
    assert other.get("/api/v1/me/").status_code == 401
    other.post("/accounts/2fa/authenticate/", {"code": "000000"})
    assert "_auth_user_id" not in other.session


def test_the_code_opens(client: Client, cora: User) -> None:
    secret = "JBSWY3DPEHPK3PXP"
    TOTP.activate(cora, secret)
    sign_in(client, cora)

    client.post("/accounts/2fa/authenticate/", {"code": code_of(secret)})

    assert client.get("/no/such/page/").status_code == 404
    assert client.get("/api/v1/me/").status_code == 200


def test_the_interface_refuses_staff_without_one_in_its_own_words(client: Client, cora: User) -> None:
    sign_in(client, cora)

    answer = client.get("/api/v1/board/")

    assert answer.status_code == 403
    assert answer.json()["code"] == "forbidden"
    assert "second factor" in answer.json()["problems"][0]["message"]


def test_a_token_made_before_its_owner_joined_the_shop_does_not_go_around_it(client: Client) -> None:
    ben = person_with_role("ben")
    _, secret = create_token(user=ben, name="logger", scope="read", now=timezone.now())
    bearer = {"Authorization": f"Bearer {secret}"}
    assert client.get("/api/v1/me/", headers=bearer).status_code == 200
    ShopRole.objects.create(person=ben.person, role=Role.MANAGER)

    assert client.get("/api/v1/me/", headers=bearer).status_code == 403

    TOTP.activate(ben, "JBSWY3DPEHPK3PXP")
    assert client.get("/api/v1/me/", headers=bearer).status_code == 200


def test_the_page_where_it_is_set_up_says_what_to_do(client: Client, cora: User) -> None:
    sign_in(client, cora)

    page = client.get("/board/", follow=True)
    text = page.content.decode()

    assert page.status_code == 200
    assert "second factor" in text
    assert not re.search(r"<style|\sstyle=", text)
