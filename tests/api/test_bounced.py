"""A mail server tells that a mail came back."""

from __future__ import annotations

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from breakin.models import Message
from shop.services import create_token
from tests import factories
from tests.api.doors import Api

pytestmark = pytest.mark.django_db


def api(person, scope: str = "write") -> Api:
    _, secret = create_token(user=person.user, name="mail", scope=scope, now=timezone.now())
    client = APIClient()
    client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
    return Api(client)


@pytest.fixture
def message(shop: factories.Cast) -> Message:
    return Message.objects.create(
        key="a", recipient=shop.ada, address=shop.ada.email, message_id="<m.1@example.org>", subject="Oil", text="Oil.",
        state="sent", created_at=timezone.now(), sent_at=timezone.now(), attempts=1,
    )  # fmt: skip


@pytest.mark.parametrize("given", ["m.1@example.org", "<m.1@example.org>"])
def test_the_message_is_found_by_its_id_and_the_phone_is_used(
    shop: factories.Cast, message: Message, given: str
) -> None:
    answer = api(shop.tom).post("messages/bounced/", {"message_id": given, "why": "550 no such user"})
    assert (answer.status_code, answer.json()["recipient"]) == (200, "Ada")
    shop.ada.refresh_from_db()
    assert shop.ada.mail_address == ""


def test_an_unknown_message_is_not_found_and_an_owner_may_not(shop: factories.Cast, message: Message) -> None:
    assert api(shop.tom).post("messages/bounced/", {"message_id": "m.2@example.org"}).status_code == 404
    assert api(shop.ada).post("messages/bounced/", {"message_id": "m.1@example.org"}).status_code == 403
    assert api(shop.tom, "read").post("messages/bounced/", {"message_id": "m.1@example.org"}).status_code == 403
    assert Message.objects.get().bounced_at is None
