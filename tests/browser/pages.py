"""Every page that somebody can open, taken from the test client, for the walk of the browser.

An address is walked once, as the first of the readers below who gets a whole page. What nobody gets is named in
`LEFT_OUT` with its reason, so that a new page is either walked or somebody said why not.
"""

from __future__ import annotations

import json
from collections.abc import Iterator

from allauth.account.internal.flows.login import record_authentication
from django.http import HttpRequest
from django.test import Client
from django.urls import reverse
from django.utils import timezone

from breakin import assess
from engines.models import Build, InspectionKind
from shop.accounts import invitation_path
from shop.models import User
from tests import factories
from tests.addresses import Address, Town, every_address, town
from tests.calc.test_charts import FOLDER

# Readers in the order they are asked.
READERS = ("anonymous", "owner", "pilot", "manager", "line")
# The libraries' own: the records, and the interface, which answers no pages.
LIBRARIES = ("admin/", "api/v1/")
PASSWORD = "crocus under old snow"

LEFT_OUT = {
    "account_confirm_email": "closed, answers 404 like any wrong address",
    "account_confirm_login_code": "signing in by a code is not offered",
    "account_email": "closed, answers 404 like any wrong address",
    "account_email_verification_sent": "closed, answers 404 like any wrong address",
    "account_set_password": "redirects: everybody has a password",
    "calendar": "a calendar, no page",
    "close_out_document": "a file",
    "close_out_print": "a file",
    "finding_acknowledge": "takes posts only",
    "healthz": "for machines",
    "home": "redirects to the first page of the reader",
    "import_empty_table": "a file",
    "kept_card_print": "a file",
    "mfa_download_recovery_codes": "a file",
    "mfa_edit_webauthn": "asks for a passkey, which no test client has",
    "mfa_login_webauthn": "answers a script",
    "mfa_reauthenticate_webauthn": "asks for a passkey, which no test client has",
    "mfa_remove_webauthn": "asks for a passkey, which no test client has",
    "next_card_print": "a file",
    "notice_bounced": "takes posts only",
    "notice_held": "takes posts only",
    "oil_picture": "a picture",
    "oneself": "redirects: only a manager who is no person of the book sees it",
    "photo": "a picture",
    "photo_small": "a picture",
    "prior_adopt": "takes posts only",
    "recorded_match": "takes posts only",
    "recorded_picture": "a picture",
    "recorded_series": "numbers for a picture",
    "recording_again": "takes posts only",
    "recording_file": "a file",
    "recording_progress": "a part that is put into a page",
    "service_worker": "a script",
    "templates_take": "takes posts only",
    "token_revoke": "takes posts only",
}


def charted_town() -> Town:
    """The town of every address, its engines of a type with a power chart, so that a card has its settings."""
    chart = json.loads((FOLDER / "TAV-4E.json").read_text(encoding="utf-8"))
    factories.type_revision("TAV-4E", chart=chart)
    made = town()
    for build in Build.objects.all():
        assess.assess_build(build.pk, timezone.now())
    return made


def signed_in(user: User | None) -> Client:
    """With the password given a moment ago, as the pages of one's account ask for it."""
    client = Client()
    if user is not None:
        client.force_login(user)
        request = HttpRequest()
        request.session = client.session
        record_authentication(request, user, method="password", reauthenticated=True)
        request.session.save()
    return client


def whole_page(client: Client, path: str) -> bytes | None:
    answer = client.get(path)
    if answer.streaming:
        b"".join(answer)  # what is not read to its end stays open
        return None
    html = answer.headers.get("Content-Type", "").startswith("text/html") and b"<html" in answer.content
    return answer.content if html and answer.status_code == 200 else None


def paths_of(address: Address, lived: Town) -> list[str]:
    """Where it is found in the town; nothing where the town has no such thing."""
    if not all(name in lived.things for name in address.arguments):
        return []
    things = {name: lived.things[name] for name in address.arguments}
    kinds = InspectionKind.values if "kind" in things else [""]
    return [reverse(address.name, kwargs={**things, "kind": kind} if kind else things) for kind in kinds]


def walked(lived: Town) -> Iterator[tuple[str, str, str, bytes]]:
    """Name of the address, who reads it, where it is, and the page."""
    clients = {role: signed_in(lived.users[role]) for role in READERS}
    clients["manager"].post(reverse("mfa_generate_recovery_codes"))
    for address in every_address():
        if not address.name or address.route.startswith(LIBRARIES):
            continue
        for path in paths_of(address, lived):
            for role in READERS:
                page = whole_page(clients[role], path)
                if page is not None:
                    yield address.name, role, path, page
                    break
    yield from _on_the_way_in(lived)
    yield "", "owner", "/no/such/page/", clients["owner"].get("/no/such/page/").content
    yield "", "owner", "/today/", clients["owner"].get("/today/").content


def _on_the_way_in(lived: Town) -> Iterator[tuple[str, str, str, bytes]]:
    """The second factor of a sign-in, and the password that is set anew by a link."""
    user = lived.users["manager"]
    assert user is not None
    user.set_password(PASSWORD)
    user.save()
    client = Client()
    client.post(reverse("account_login"), {"login": user.email, "password": PASSWORD})
    path = reverse("mfa_authenticate")
    yield "mfa_authenticate", "anonymous", path, client.get(path).content
    path = invitation_path(user)
    yield "account_reset_password_from_key", "anonymous", path, Client().get(path, follow=True).content
