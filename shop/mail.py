"""The mail transport: one message, one recipient, over Django's e-mail backend.

Whoever calls this keeps the message as a row first. A failure is told apart: a passing one is worth trying again, a
permanent one is not. The Message-ID is made from the key of the row, so that a repeat after a crash is seen as such.
"""

from __future__ import annotations

import hashlib
import smtplib
from dataclasses import dataclass
from email.headerregistry import Address
from email.utils import parseaddr
from typing import Any

from django.conf import settings
from django.core.exceptions import ValidationError
from django.core.mail import EmailMultiAlternatives
from django.core.validators import validate_email
from django.template.loader import render_to_string
from django.utils import timezone, translation


class MailFailed(Exception):
    """The mail was not accepted. The message says what the mail server, or the transport, said."""


class PassingFailure(MailFailed):
    """Worth trying again later: no connection, a full mailbox, a busy server."""


class PermanentFailure(MailFailed):
    """Not worth trying again: no such address, a refused sender, an address that cannot be written in a header."""


@dataclass(frozen=True)
class Mail:
    """A message, ready to be sent.

    from_name : stands beside the address that this server may send as. reply_to : where an answer goes; "" = there.
    """

    message_id: str
    to_name: str
    to_address: str
    subject: str
    text: str
    html: str = ""
    from_name: str = ""
    reply_to: str = ""


@dataclass(frozen=True)
class Words:
    """What a message says: one subject line, the plain part, the HTML part."""

    subject: str
    text: str
    html: str


def message_id(key: str) -> str:
    """The Message-ID header of the message with this key; always the same one."""
    domain = parseaddr(settings.DEFAULT_FROM_EMAIL)[1].rpartition("@")[2] or "localhost"
    return f"<{hashlib.sha256(key.encode()).hexdigest()[:40]}@{domain}>"


def render(name: str, context: dict[str, Any], *, zone: str, language: str = settings.LANGUAGE_CODE) -> Words:
    """Fill the templates `<name>_subject.txt`, `<name>.txt` and `<name>.html` in the reader's zone and language."""
    with timezone.override(zone), translation.override(language):
        subject = " ".join(render_to_string(f"{name}_subject.txt", context).split())
        return Words(
            subject, render_to_string(f"{name}.txt", context).strip() + "\n", render_to_string(f"{name}.html", context)
        )


def send(mail: Mail) -> None:
    """Hand one message to the mail server.

    Call it outside any transaction: a mail server may take half a minute.

    Raises
    ------
    PassingFailure, PermanentFailure : the message was not accepted.
    """
    try:
        validate_email(mail.to_address)
        accepted = _message(mail).send()
    except smtplib.SMTPRecipientsRefused as error:
        codes = [code for code, _said in error.recipients.values()]
        raise _failure(min(codes, default=0), error) from error
    except smtplib.SMTPResponseException as error:
        # A login that is refused is mended by the shop, not by giving up its mail.
        code = 0 if isinstance(error, smtplib.SMTPAuthenticationError) else error.smtp_code
        raise _failure(code, error) from error
    except (ValidationError, ValueError) as error:
        raise PermanentFailure(f"The message cannot be written: {_said(error)}") from error
    except Exception as error:
        # Whatever else a backend raises: nobody knows that it will not pass.
        raise PassingFailure(_said(error)) from error
    if not accepted:
        raise PassingFailure("The mail server took no message and gave no reason.")


def _message(mail: Mail) -> EmailMultiAlternatives:
    message = EmailMultiAlternatives(
        subject=mail.subject,
        body=mail.text,
        from_email=_sender(mail),
        reply_to=[mail.reply_to] if mail.reply_to else None,
        to=[str(Address(mail.to_name, addr_spec=mail.to_address))],
        headers={"Message-ID": mail.message_id, "Auto-Submitted": "auto-generated"},
    )
    if mail.html:
        message.attach_alternative(mail.html, "text/html")
    return message


def _sender(mail: Mail) -> str:
    if not mail.from_name:
        return str(settings.DEFAULT_FROM_EMAIL)
    return str(Address(mail.from_name, addr_spec=parseaddr(settings.DEFAULT_FROM_EMAIL)[1]))


def _failure(code: int, error: Exception) -> MailFailed:
    kind = PermanentFailure if 500 <= code < 600 else PassingFailure
    return kind(_said(error))


def _said(error: Exception) -> str:
    if isinstance(error, ValidationError):
        return "; ".join(error.messages)
    return f"{type(error).__name__}: {error}"
