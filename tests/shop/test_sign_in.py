"""Signing in: by e-mail, by invitation only, with a limit on guessing, and out again."""

from __future__ import annotations

import logging
import re
from datetime import timedelta

import pytest
import time_machine
from django.core import mail
from django.test import Client
from django.utils import timezone

from shop.accounts import invitation_path, invitation_url
from shop.models import Customer, CustomerMember, Person, Role, ShopRole, User

pytestmark = pytest.mark.django_db

PASSWORD = "quince anvil harbour"
LOGIN = "/accounts/login/"


@pytest.fixture
def ada() -> User:
    user = User.objects.create_user("ada@owner.example", PASSWORD)
    person = Person.objects.create(name="Ada", user=user, email=user.email, toured_at=timezone.now())
    CustomerMember.objects.create(customer=Customer.objects.create(name="Ada's"), person=person, role="owner")
    return user


def sign_in(client: Client, email: str = "ada@owner.example", password: str = PASSWORD, **extra: str):
    return client.post(LOGIN, {"login": email, "password": password, **extra})


def signed_in(client: Client) -> bool:
    return "_auth_user_id" in client.session


def reset_link(message: mail.EmailMessage) -> str:
    found = re.search(r"https?://[^/\s]+(/accounts/password/reset/key/\S+)", str(message.body))
    assert found, message.body
    return found.group(1)


def choose_password(client: Client, path: str, password: str):
    """Follow a mailed link to its form and send the form."""
    form = client.get(path, follow=True)
    assert "Choose a password" in form.content.decode()
    return client.post(form.redirect_chain[-1][0], {"password1": password, "password2": password})


@pytest.mark.parametrize("email", ["ada@owner.example", "ADA@Owner.Example", " Ada@OWNER.example "])
def test_the_address_opens_in_any_case(client: Client, ada: User, email: str) -> None:
    answer = sign_in(client, email)

    assert answer.status_code == 302
    assert signed_in(client)


def test_an_address_that_was_entered_in_capitals_opens_too(client: Client) -> None:
    User.objects.create_user("Ben.Quill@Owner.EXAMPLE", PASSWORD)
    User(email="Cora@Owner.example").save()

    assert sign_in(client, "ben.quill@owner.example").status_code == 302
    assert User.objects.filter(email="cora@owner.example").exists()


def test_a_wrong_password_and_an_unknown_address_get_the_same_answer(client: Client, ada: User) -> None:
    wrong = sign_in(client, password="wrong wrong wrong")
    unknown = sign_in(client, email="nobody@owner.example", password="wrong wrong wrong")

    says = "This e-mail address and this password do not belong together"
    assert says in wrong.content.decode()
    assert says in unknown.content.decode()
    assert not signed_in(client)


def test_the_sixth_wrong_password_within_five_minutes_is_refused_in_plain_words(client: Client, ada: User) -> None:
    for _ in range(5):
        assert "do not belong together" in sign_in(client, password="wrong wrong wrong").content.decode()

    sixth = sign_in(client, password="wrong wrong wrong").content.decode()
    right = sign_in(client).content.decode()

    assert "too many wrong passwords" in sixth
    assert "five minutes" in sixth
    assert "too many wrong passwords" in right, "the right password is not tried either"
    assert not signed_in(client)


def test_the_limit_holds_for_the_address_from_wherever_it_is_tried(client: Client, ada: User) -> None:
    for number in range(5):
        client.post(LOGIN, {"login": "ada@owner.example", "password": "wrong"}, REMOTE_ADDR=f"203.0.113.{number}")

    client.post(LOGIN, {"login": "ADA@owner.example", "password": PASSWORD}, REMOTE_ADDR="198.51.100.7")

    assert not signed_in(client)


def test_after_five_minutes_the_right_password_opens_again(client: Client, ada: User) -> None:
    for _ in range(6):
        sign_in(client, password="wrong wrong wrong")

    with time_machine.travel(timezone.now() + timedelta(minutes=5, seconds=5), tick=True):
        sign_in(client)

    assert signed_in(client)


def test_too_many_tries_from_one_place_get_the_page_that_says_wait(client: Client) -> None:
    for number in range(30):
        sign_in(client, f"user{number}@owner.example")
    answer = sign_in(client, "user31@owner.example")

    assert answer.status_code == 429
    assert "Too many tries" in answer.content.decode()


def test_a_failed_sign_in_is_logged_without_what_was_typed(
    client: Client, ada: User, caplog: pytest.LogCaptureFixture
) -> None:
    with caplog.at_level(logging.WARNING, "shop.accounts"):
        sign_in(client, password="wrong wrong wrong")

    (line,) = [record.getMessage() for record in caplog.records if record.name == "shop.accounts"]
    assert line == f"Wrong password for user {ada.pk} from 127.0.0.1"


def test_a_user_who_was_switched_off_gets_nowhere(client: Client, ada: User) -> None:
    ada.is_active = False
    ada.save()

    answer = client.post(LOGIN, {"login": ada.email, "password": PASSWORD}, follow=True)

    assert not signed_in(client)
    assert answer.redirect_chain[-1][0] == "/accounts/inactive/"


def test_a_session_ends_when_its_user_is_switched_off(client: Client, ada: User) -> None:
    sign_in(client)
    ada.is_active = False
    ada.save()

    answer = client.get("/api/v1/me/")

    assert answer.status_code == 401


def test_the_session_key_changes_at_sign_in(client: Client, ada: User) -> None:
    client.get(LOGIN)
    session = client.session
    session["planted"] = "yes"
    session.save()
    client.cookies["sessionid"] = session.session_key or ""
    before = session.session_key

    sign_in(client)

    assert client.cookies["sessionid"].value != before


def test_signing_out_takes_a_click_and_ends_the_session(client: Client, ada: User) -> None:
    sign_in(client)

    client.get("/accounts/logout/")
    assert signed_in(client), "a link on another site must not sign anybody out"

    answer = client.post("/accounts/logout/")
    assert answer.headers["location"] == LOGIN
    assert not signed_in(client)


@pytest.mark.parametrize(
    "elsewhere", ["https://evil.example/", "//evil.example/", "/\\evil.example", "javascript:alert(1)"]
)
def test_nobody_is_sent_elsewhere_after_signing_in(client: Client, ada: User, elsewhere: str) -> None:
    answer = sign_in(client, next=elsewhere)

    assert answer.status_code == 302
    assert answer.headers["location"] == "/"


def test_the_page_one_came_for_is_opened_after_signing_in(client: Client, ada: User) -> None:
    assert sign_in(client, next="/portal/").headers["location"] == "/portal/"


class TestDemo:
    LOGINS = '[{"role": "shop manager", "email": "cora@shop.example", "password": "shown on <purpose>"}]'

    def test_the_logins_stand_on_the_sign_in_page_of_a_demo_run(self, client: Client, settings, tmp_path) -> None:
        settings.DEMO_MODE, settings.DATA_DIR = True, tmp_path
        (tmp_path / "demo-logins.json").write_text(self.LOGINS)

        text = client.get(LOGIN).content.decode()

        assert "cora@shop.example" in text
        assert "shown on &lt;purpose&gt;" in text
        assert "cora@shop.example" not in client.get("/accounts/password/reset/").content.decode()

    def test_they_are_shown_nowhere_else(self, client: Client, settings, tmp_path) -> None:
        settings.DEMO_MODE, settings.DATA_DIR = False, tmp_path
        (tmp_path / "demo-logins.json").write_text(self.LOGINS)

        assert "cora@shop.example" not in client.get(LOGIN).content.decode()


class TestInvitation:
    @pytest.mark.parametrize("method", ["get", "post"])
    def test_nobody_signs_up(self, client: Client, method: str) -> None:
        data = {"email": "eve@owner.example", "password1": PASSWORD, "password2": PASSWORD}
        answer = getattr(client, method)("/accounts/signup/", data)

        assert not User.objects.exists()
        assert "invit" in answer.content.decode()

    def test_the_link_lets_one_choose_a_password_once(self, client: Client) -> None:
        user = User.objects.create_user("ben@owner.example")
        path = invitation_path(user)

        choose_password(client, path, "walnut kettle drizzle")
        again = Client().get(path, follow=True).content.decode()

        assert sign_in(client, user.email, "walnut kettle drizzle").status_code == 302
        assert "This link no longer works" in again

    def test_from_the_managers_form_to_the_first_sign_in(self, client: Client) -> None:
        cora = User.objects.create_user("cora@shop.example", PASSWORD)
        person = Person.objects.create(name="Cora", user=cora, email=cora.email)
        ShopRole.objects.create(person=person, role=Role.MANAGER)
        customer = Customer.objects.create(name="Ben's")
        manager = Client()
        manager.force_login(cora)

        form = {"name": "Ben", "email": "Ben@Owner.example", "role": "owner", "customer": str(customer.pk)}
        assert manager.post("/people/invite/", form).status_code == 302
        (message,) = mail.outbox
        choose_password(client, reset_link(message), "walnut kettle drizzle")

        assert message.to == ["Ben <Ben@Owner.example>"]
        assert sign_in(Client(), "ben@owner.example", "walnut kettle drizzle").headers["location"] == "/portal/tour/"
        assert client.get("/", follow=True).redirect_chain[-1][0] == "/portal/"
        assert "This link no longer works" in Client().get(reset_link(message), follow=True).content.decode()

    def test_the_link_runs_out(self, client: Client) -> None:
        path = invitation_path(User.objects.create_user("ben@owner.example"))

        with time_machine.travel(timezone.now() + timedelta(days=3, minutes=1), tick=False):
            answer = client.get(path, follow=True).content.decode()

        assert "This link no longer works" in answer

    def test_the_link_in_a_mail_names_the_site(self, settings) -> None:
        settings.SITE_URL = "https://book.example"

        url = invitation_url(User.objects.create_user("ben@owner.example"))

        assert url.startswith("https://book.example/accounts/password/reset/key/")

    def test_a_password_that_is_easy_to_guess_is_refused(self, client: Client) -> None:
        path = invitation_path(User.objects.create_user("ben@owner.example"))

        answer = choose_password(client, path, "short")

        assert answer.status_code == 200
        assert "at least 12 characters" in answer.content.decode()

    def test_without_a_password_nobody_signs_in(self, client: Client) -> None:
        User.objects.create_user("ben@owner.example")

        sign_in(client, "ben@owner.example", "")

        assert not signed_in(client)


class TestReset:
    def test_a_new_password_comes_by_mail_and_the_old_one_ends(self, client: Client, ada: User) -> None:
        client.post("/accounts/password/reset/", {"email": "ADA@owner.example"})
        (message,) = mail.outbox
        choose_password(client, reset_link(message), "walnut kettle drizzle")

        assert message.to == ["ada@owner.example"]
        assert signed_in(client), "who has the mail and chose a password is in"
        other = Client()
        sign_in(other)
        assert not signed_in(other)
        sign_in(other, password="walnut kettle drizzle")
        assert signed_in(other)

    def test_a_link_works_once(self, client: Client, ada: User) -> None:
        client.post("/accounts/password/reset/", {"email": ada.email})
        path = reset_link(mail.outbox[0])
        choose_password(client, path, "walnut kettle drizzle")

        assert "This link no longer works" in Client().get(path, follow=True).content.decode()

    def test_an_unknown_address_gets_no_mail_and_the_same_answer(self, client: Client, ada: User) -> None:
        known = client.post("/accounts/password/reset/", {"email": ada.email})
        unknown = client.post("/accounts/password/reset/", {"email": "nobody@owner.example"})

        assert (known.status_code, known.headers["location"]) == (unknown.status_code, unknown.headers["location"])
        assert [message.to for message in mail.outbox] == [[ada.email]]

    def test_a_user_who_was_switched_off_gets_no_link(self, client: Client, ada: User) -> None:
        User.objects.filter(pk=ada.pk).update(is_active=False)

        client.post("/accounts/password/reset/", {"email": ada.email})

        assert mail.outbox == []

    def test_other_sessions_end_with_the_old_password(self, client: Client, ada: User) -> None:
        sign_in(client)
        ada.set_password("walnut kettle drizzle")
        ada.save()

        assert client.get("/api/v1/me/").status_code == 401


def test_nobody_changes_the_address_that_the_shop_proved(client: Client, ada: User) -> None:
    sign_in(client)

    added = client.post("/accounts/email/", {"action_add": "", "email": "x@y.example"})

    assert (client.get("/accounts/email/").status_code, added.status_code) == (404, 404)
