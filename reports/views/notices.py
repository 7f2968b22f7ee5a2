"""The notices page, and what is said of a mail afterwards."""

from __future__ import annotations

from collections.abc import Callable

from django.contrib import messages
from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_POST, require_safe

from breakin.models import Notice
from breakin.notices import mark_bounced, settle_held
from reports.acts.base import NOBODY
from reports.fleet.notices_page import Asked, notices_page
from reports.reader import Reader, for_reader
from shop import access
from shop.errors import Refusal
from shop.models import Person


@for_reader
@require_safe
def notices(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """What people were told, newest first. For the shop."""
    access.require(reader.user, "see_notices")
    return render(request, "reports/notices.html", {"page": notices_page(Asked.of(request.GET.dict()))})


@require_POST
@for_reader
def notice_bounced(request: HttpRequest, reader: Reader, notice_id: int) -> HttpResponseBase:
    """The mail of this notice came back."""
    access.require(reader.user, "settle_mail")
    notice = get_object_or_404(Notice.objects.filter(message__isnull=False).select_related("message"), pk=notice_id)
    why = request.POST.get("why", "")

    def do(by: Person) -> str:
        assert notice.message is not None  # noqa: S101 - asked for above
        mark_bounced(by=by, message=notice.message, why=why, now=timezone.now())
        return f"Noted. {notice.recipient.name} is phoned until there is another address."

    return _done(request, reader, do)


@require_POST
@for_reader
def notice_held(request: HttpRequest, reader: Reader, notice_id: int) -> HttpResponseBase:
    """A notice that a restore held goes out after all, or is dropped."""
    access.require(reader.user, "settle_mail")
    notice = get_object_or_404(Notice, pk=notice_id)
    send = request.POST.get("do") == "send"

    def do(by: Person) -> str:
        settle_held(by=by, notice=notice, send=send, now=timezone.now())
        return "It goes out with the next round." if send else "Dropped."

    return _done(request, reader, do)


def _done(request: HttpRequest, reader: Reader, do: Callable[[Person], str]) -> HttpResponseBase:
    if reader.person is None:
        messages.error(request, NOBODY)
        return redirect("notices")
    try:
        messages.success(request, do(reader.person))
    except Refusal as refusal:
        messages.error(request, str(refusal))
    return redirect("notices")
