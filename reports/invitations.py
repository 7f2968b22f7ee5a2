"""The mail that lets somebody choose a first password."""

from __future__ import annotations

import logging
from smtplib import SMTPException

from django.core.mail import send_mail
from django.template.loader import render_to_string

from shop.accounts import invitation_url
from shop.authority import ORDER_OF_AUTHORITY, WHAT_THIS_SAYS
from shop.models import Person, Shop

log = logging.getLogger(__name__)


def send_invitation(person: Person, *, by: str) -> bool:
    """Mail the address under which the password is chosen; whether the mail could be handed on."""
    user = person.user
    if user is None:
        raise ValueError("An invitation needs a person with a user.")
    shop = Shop.objects.first()
    context = {
        "person": person,
        "by": by,
        "shop": shop.name if shop else "the shop",
        "url": invitation_url(user),
        "authority": f"{ORDER_OF_AUTHORITY} {WHAT_THIS_SAYS}",
    }
    subject = render_to_string("reports/mail/invitation_subject.txt", context).strip()
    text = render_to_string("reports/mail/invitation.txt", context)
    try:
        return bool(send_mail(subject, text, None, [user.email]))
    except (SMTPException, OSError):
        log.exception("The invitation to person %s could not be sent.", person.pk)
        return False
