"""The mail that lets somebody choose a first password."""

from __future__ import annotations

import logging

from django.conf import settings
from django.utils.translation import gettext as _
from django.utils.translation import override

from shop.language import ASKED_BY
from shop.mail import Mail, MailFailed, message_id, render, send
from shop.models import Person, Shop

log = logging.getLogger(__name__)


def send_invitation(person: Person, path: str, *, by: str) -> bool:
    """Mail the address under which the password is chosen; whether the mail was accepted.

    It speaks the language of the person, and so does the page behind its link.

    path : from `shop.services.invite`. Its token makes the Message-ID, so that a second try reads as the same mail.
    """
    shop = Shop.objects.first()
    context = {
        "person": person,
        "by": by,
        "shop_name": shop.name if shop else "",
        "shop_phone": shop.phone if shop else "",
        "url": f"{settings.SITE_URL}{path}?{ASKED_BY}={person.language}",
    }
    with override(person.language):
        context["why"] = _("%(name)s gave your address when opening a login for you.") % {"name": by}
    words = render("reports/mail/invitation", context, zone=person.zone, language=person.language)
    mail = Mail(
        message_id=message_id(f"invitation {path}"),
        to_name=person.name,
        to_address=person.email,
        subject=words.subject,
        text=words.text,
        html=words.html,
        from_name=shop.name if shop else "",
        reply_to=shop.mail if shop else "",
    )
    try:
        send(mail)
    except MailFailed:
        log.exception("The invitation to person %s was not sent.", person.pk)
        return False
    return True
