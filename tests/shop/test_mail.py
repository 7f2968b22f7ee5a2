"""The mail transport: what a message carries, and how failures are told apart."""

from __future__ import annotations

from email import message_from_bytes, policy
from email.message import EmailMessage
from pathlib import Path
from smtplib import SMTPAuthenticationError, SMTPServerDisconnected
from typing import Any

import pytest
from django.conf import LazySettings
from django.core import mail as outgoing
from django.core.mail.backends.locmem import EmailBackend

from shop import mail


def letter(**changes: Any) -> mail.Mail:
    values = {
        "message_id": mail.message_id("aircraft-1:2:2026-06-10"),
        "to_name": "Ines",
        "to_address": "ines@example.test",
        "subject": "QX-501: Oil reading missing",
        "text": "Level 9.46\u202fL ± 0.14\n",
        "html": "<p>Level 9.46\u202fL ± 0.14</p>",
    } | changes
    return mail.Mail(**values)


def test_the_message_id_comes_from_the_key_alone(settings: LazySettings) -> None:
    settings.DEFAULT_FROM_EMAIL = "Run-in Book <book@shop.example.test>"
    assert mail.message_id("a") == mail.message_id("a") != mail.message_id("b")
    assert mail.message_id("a").endswith("@shop.example.test>")


def test_a_demo_keeps_the_mail_as_a_file_with_both_parts_and_the_id(settings: LazySettings, tmp_path: Path) -> None:
    settings.EMAIL_BACKEND = "django.core.mail.backends.filebased.EmailBackend"
    settings.EMAIL_FILE_PATH = tmp_path / "mail"
    mail.send(letter())
    (kept,) = (tmp_path / "mail").iterdir()
    found = message_from_bytes(kept.read_bytes().split(b"\n---------")[0], policy=policy.default)
    assert isinstance(found, EmailMessage)
    assert found["Message-ID"] == letter().message_id
    assert found["To"] == "Ines <ines@example.test>"
    assert found["Auto-Submitted"] == "auto-generated"
    kinds = [part.get_content_type() for part in found.iter_parts()]
    assert kinds == ["text/plain", "text/html"]
    text = found.get_body(("plain",))
    assert text is not None
    assert "9.46\u202fL ± 0.14" in text.get_content()


def test_a_name_with_a_comma_or_from_abroad_stays_one_recipient() -> None:
    mail.send(letter(to_name="Ødegård, Sunniva"))
    (sent,) = outgoing.outbox
    assert sent.recipients() == ['"Ødegård, Sunniva" <ines@example.test>']
    assert sent.message()["To"].count("@") == 1


@pytest.mark.parametrize(
    "changes",
    [{"to_address": "ines at home"}, {"to_address": ""}, {"subject": "one\nBcc: two"}, {"to_name": "a\r\nBcc: b"}],
)
def test_what_cannot_be_written_in_a_header_is_a_permanent_failure(changes: dict[str, str]) -> None:
    with pytest.raises(mail.PermanentFailure):
        mail.send(letter(**changes))
    assert outgoing.outbox == []


@pytest.mark.parametrize(
    "failure",
    [
        SMTPAuthenticationError(535, b"wrong password"),
        SMTPServerDisconnected("gone"),
        OSError("no route"),
        KeyError("x"),
    ],
)
def test_what_the_shop_or_time_can_mend_is_a_passing_failure(
    failure: Exception, monkeypatch: pytest.MonkeyPatch
) -> None:
    def fail(*_args: Any) -> int:
        raise failure

    monkeypatch.setattr(EmailBackend, "send_messages", fail)
    with pytest.raises(mail.PassingFailure, match=type(failure).__name__):
        mail.send(letter())


def test_a_backend_that_takes_nothing_and_says_nothing_is_a_passing_failure(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(EmailBackend, "send_messages", lambda self, messages: 0)
    with pytest.raises(mail.PassingFailure):
        mail.send(letter())
