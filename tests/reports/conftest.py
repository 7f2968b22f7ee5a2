"""Pages are looked at by people whose sign-in is done; the second factor has tests of its own."""

from collections.abc import Iterator

import pytest
import time_machine
from django.test import Client
from pytest_django import Settings

from shop.models import Person, User
from tests import factories


@pytest.fixture(autouse=True)
def _no_second_factor(settings: Settings) -> None:
    settings.SECOND_FACTOR_FOR_STAFF = False


@pytest.fixture
def today() -> Iterator[time_machine.Traveller]:
    """The tests' own today, so that "now" in a form is the end of the flight."""
    with time_machine.travel(factories.NOW, tick=False) as traveller:
        yield traveller


@pytest.fixture
def shop(db: None) -> factories.Cast:
    return factories.cast()


@pytest.fixture
def as_person(client: Client):
    """A client signed in as this person."""

    def signed_in(person: Person) -> Client:
        assert isinstance(person.user, User)
        client.force_login(person.user, backend="allauth.account.auth_backends.AuthenticationBackend")
        return client

    return signed_in
