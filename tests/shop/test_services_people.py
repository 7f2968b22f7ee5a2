"""Customers, invitations and keys to the programming interface."""

from __future__ import annotations

from datetime import timedelta

import pytest

from shop.errors import Refusal
from shop.models import ApiToken, AuditEvent, CustomerMember, Person, ShopRole, User
from shop.services import add_member, create_customer, create_token, invite, revoke_token, roles_of, token_for
from tests.factories import NOW, person

pytestmark = pytest.mark.django_db


@pytest.fixture
def cora() -> Person:
    return person("Cora", role="manager")


def test_an_invited_person_has_a_user_without_a_usable_password(cora: Person) -> None:
    ada, path = invite(by=cora, name="Ada", email="Ada@Example.org", role="line_technician", now=NOW)
    assert ada.user is not None
    assert not ada.user.has_usable_password()
    assert ada.user.email == "ada@example.org"
    assert roles_of(ada, NOW) == {"line_technician"}
    assert path.startswith("/accounts/")
    assert AuditEvent.objects.filter(act="invite", actor=cora).count() == 1


def test_inviting_again_makes_nobody_twice(cora: Person) -> None:
    first, _path = invite(by=cora, name="Ada", email="ada@example.org", role="manager", now=NOW)
    again, _path = invite(by=cora, name="Ada", email="ADA@example.org", role="manager", now=NOW)
    assert first == again
    assert (User.objects.filter(email="ada@example.org").count(), ShopRole.objects.filter(person=first).count()) == (
        1,
        1,
    )


def test_somebody_known_by_phone_gets_a_user_of_his_own(cora: Person) -> None:
    jory = person("Jory", with_user=False)
    customer = create_customer(by=cora, name="Jory's flying", now=NOW)
    invited, _path = invite(by=cora, person=jory, customer=customer, role="owner", now=NOW)
    assert invited == jory
    assert invited.user is not None
    assert CustomerMember.objects.get(person=jory).role == "owner"


@pytest.mark.parametrize(
    ("name", "email", "role", "field"),
    [
        ("Ada", "not an address", "manager", "email"),
        ("", "ada@example.org", "manager", "name"),
        ("Ada", "ada@example.org", "emperor", "role"),
        ("Ada", "cora@example.org", "manager", "email"),
    ],
)
def test_a_faulty_invitation_leaves_nothing_behind(cora: Person, name: str, email: str, role: str, field: str) -> None:
    with pytest.raises(Refusal) as caught:
        invite(by=cora, name=name, email=email, role=role, now=NOW)
    assert set(caught.value.by_field()) == {field}
    assert list(Person.objects.all()) == [cora]
    assert User.objects.count() == 1


def test_a_customer_of_that_name_is_there_already(cora: Person) -> None:
    create_customer(by=cora, name="Larkmere", now=NOW)
    with pytest.raises(Refusal, match="already"):
        create_customer(by=cora, name="larkmere ", now=NOW)


def test_another_role_at_a_customer_is_a_new_period(cora: Person) -> None:
    ada, customer = person("Ada"), create_customer(by=cora, name="Larkmere", now=NOW)
    add_member(by=cora, customer=customer, person=ada, role="club_member", now=NOW)
    later = NOW + timedelta(days=1)
    add_member(by=cora, customer=customer, person=ada, role="owner", now=later)
    periods = CustomerMember.objects.order_by("since").values_list("role", "until")
    assert list(periods) == [("club_member", later), ("owner", None)]


def test_a_key_opens_until_it_ends_or_is_revoked(cora: Person) -> None:
    assert cora.user is not None
    end = NOW + timedelta(days=1)
    token, secret = create_token(user=cora.user, name="phone", scope="write", expires=end, now=NOW)
    assert secret not in (token.sha256, token.name)
    found = token_for(secret, end - timedelta(seconds=1))
    assert found == token
    assert ApiToken.objects.get().last_used_at == end - timedelta(seconds=1)
    assert token_for(secret, end) is None
    assert token_for(secret + "x", NOW) is None
    revoke_token(by=cora, token=token, now=NOW)
    assert token_for(secret, NOW) is None


def test_a_faulty_key_is_refused(cora: Person) -> None:
    assert cora.user is not None
    for name, scope, end in (("", "read", None), ("phone", "all", None), ("phone", "read", NOW)):
        with pytest.raises(Refusal):
            create_token(user=cora.user, name=name, scope=scope, expires=end, now=NOW)
    assert not ApiToken.objects.exists()


def test_a_key_of_somebody_who_may_not_sign_in_opens_nothing(cora: Person) -> None:
    assert cora.user is not None
    _token, secret = create_token(user=cora.user, name="phone", scope="read", now=NOW)
    User.objects.update(is_active=False)
    assert token_for(secret, NOW) is None
