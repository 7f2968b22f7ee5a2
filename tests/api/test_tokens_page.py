"""The page where a person makes and revokes tokens."""

from __future__ import annotations

import re
from datetime import timedelta

import pytest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from shop.models import ApiToken, AuditEvent
from shop.services import create_token
from tests import factories
from tests.api.doors import user_of

pytestmark = pytest.mark.django_db

PATH = "/account/tokens/"
FORM = {"name": "logbook on the laptop", "scope": "write", "days": "30"}


@pytest.fixture
def ada(shop: factories.Cast, client: Client) -> Client:
    client.force_login(user_of(shop.ada))
    return client


def _secret(answer) -> str:
    (secret,) = re.findall(r"rib_[\w-]{40,}", answer.content.decode())
    return str(secret)


def test_the_secret_is_shown_once_and_opens_the_interface(ada: Client) -> None:
    made = ada.post(PATH, FORM)
    secret = _secret(made)

    assert made.status_code == 200
    assert "no-store" in made.headers["Cache-Control"]
    assert secret not in ada.get(PATH).content.decode()
    token = ApiToken.objects.get()
    assert (token.name, token.scope) == (FORM["name"], "write")
    assert token.expires_at is not None
    assert timedelta(days=29) < token.expires_at - timezone.now() <= timedelta(days=30)
    answer = Client().get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"})
    assert (answer.status_code, answer.json()["scope"]) == (200, "write")


def test_a_reload_of_the_answer_makes_no_second_one(ada: Client) -> None:
    ada.post(PATH, FORM)
    again = ada.post(PATH, FORM)

    assert again.status_code == 422
    assert "already" in again.content.decode()
    assert ApiToken.objects.count() == 1


def test_what_is_missing_is_said_and_what_was_typed_stays(ada: Client) -> None:
    answer = ada.post(PATH, {"name": "", "scope": "write", "days": "7"})

    text = answer.content.decode()
    assert answer.status_code == 422
    assert "so that you know later what uses this token" in text
    assert re.search(r'value="write"[^>]*checked', text)
    assert not ApiToken.objects.exists()


def test_twenty_are_enough(ada: Client, shop: factories.Cast) -> None:
    for number in range(20):
        create_token(user=user_of(shop.ada), name=f"t{number}", scope="read", now=timezone.now())

    assert "Revoke one" in ada.post(PATH, FORM).content.decode()
    assert ApiToken.objects.count() == 20


def test_a_revoked_one_opens_nothing_and_leaves_the_list(ada: Client) -> None:
    secret = _secret(ada.post(PATH, FORM))
    token = ApiToken.objects.get()

    answer = ada.post(reverse("token_revoke", args=[token.pk]), follow=True)

    assert "opens nothing any more" in answer.content.decode()
    assert "Nothing opens the book" in answer.content.decode()
    assert Client().get("/api/v1/me/", headers={"Authorization": f"Bearer {secret}"}).status_code == 401
    assert [event.act for event in AuditEvent.objects.filter(subject="shop.ApiToken").order_by("id")] == [
        "create_token",
        "revoke_token",
    ]


def test_anothers_is_neither_seen_nor_revoked(ada: Client, shop: factories.Cast) -> None:
    token, _ = create_token(user=user_of(shop.ben), name="Ben's own", scope="read", now=timezone.now())

    assert "Ben" not in ada.get(PATH).content.decode()
    assert ada.post(reverse("token_revoke", args=[token.pk])).status_code == 404
    token.refresh_from_db()
    assert token.revoked_at is None
