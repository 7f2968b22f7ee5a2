"""The cast, with an interface to speak through in each one's name."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone
from rest_framework.test import APIClient

from engines.models import Holding
from shop.models import Person
from shop.services import create_token
from tests import factories
from tests.api.doors import Api, user_of


@pytest.fixture
def shop(db) -> factories.Cast:
    return factories.cast()


@pytest.fixture
def api():
    """api(person): speaks with a token of that person; api(person, "read") with one that may only read."""

    def speak(person: Person | None, scope: str = "write") -> Api:
        client = APIClient()
        if person is not None:
            _, secret = create_token(
                user=user_of(person), name=f"t{timezone.now():%f}", scope=scope, now=timezone.now()
            )
            client.credentials(HTTP_AUTHORIZATION=f"Bearer {secret}")
        return Api(client)

    return speak


@pytest.fixture
def sold(shop: factories.Cast) -> Person:
    """QX-901 went from Ada to Ben five days ago. Ben."""
    now = timezone.now()
    Holding.objects.filter(aircraft=shop.aircraft_1).update(until=now - timedelta(days=5))
    Holding.objects.create(aircraft=shop.aircraft_1, customer=shop.ben_customer, since=now - timedelta(days=5))
    return shop.ben
