"""Answers for a form that a phone kept and sends by itself: the same view as for a person, in words instead of a page.

It comes with the number of the user who wrote it in a header, so that nobody's entry is sent under another's name.
Every answer is {"state": ...} with one of

    received    the shop has it; `said` is the sentence with the time, `page` what it means, `more` further sentences
    asks        something is to be mended; `asks` is a list of sentences, and the phone keeps what was typed
    refused     this user may not enter it now; the phone keeps what was typed
    other       somebody else is signed in
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import datetime, timedelta
from functools import wraps
from typing import Concatenate, ParamSpec

from django.core.exceptions import PermissionDenied
from django.http import Http404, HttpRequest, HttpResponse, JsonResponse
from django.utils import timezone
from django.utils.translation import gettext as _

from reports.reader import Reader
from shop import written

Rest = ParamSpec("Rest")
View = Callable[Concatenate[HttpRequest, Reader, Rest], HttpResponse]

USER_HEADER = "X-Written-By"
CLOCK_SLACK = timedelta(minutes=10)


def is_sent_by_itself(request: HttpRequest) -> bool:
    """Does a phone send this, and not a person who looks at the page?"""
    return request.method == "POST" and USER_HEADER in request.headers


def for_outbox(view: View[Rest]) -> View[Rest]:
    """A form's view, under `for_reader`, that a phone may send to by itself."""

    @wraps(view)
    def page(request: HttpRequest, reader: Reader, /, *args: Rest.args, **kwargs: Rest.kwargs) -> HttpResponse:
        if not is_sent_by_itself(request):
            return view(request, reader, *args, **kwargs)
        if request.headers[USER_HEADER] != str(reader.user.pk):
            return JsonResponse({"state": "other"}, status=409)
        try:
            return view(request, reader, *args, **kwargs)
        except (Http404, PermissionDenied):
            return JsonResponse({"state": "refused"}, status=403)

    return page


def received(at: datetime, page: str, more: Sequence[str] = ()) -> JsonResponse:
    """The shop has it since `at`; `page` says what it means."""
    said = _("Received by the shop %(time)s.") % {"time": f"{timezone.localtime(at):%H:%M}"}
    return JsonResponse({"state": "received", "said": said, "page": page, "more": [str(each) for each in more]})


def asks(sentences: Sequence[str]) -> JsonResponse:
    """Nothing was kept; each sentence says what is to be mended or answered."""
    return JsonResponse({"state": "asks", "asks": list(sentences)}, status=422)


def clock_words(typed: object, received_at: datetime) -> str:
    """What to say of the clock of the device that sent an entry; "" when it was right, or is not known.

    typed : the typed texts of the entry, with what the device's clock showed as it sent.
    """
    pair = typed.get("sent_at") if isinstance(typed, dict) else None
    if not isinstance(pair, list | tuple) or not pair:
        return ""
    try:
        sent = datetime.fromisoformat(str(pair[0]))
    except ValueError:
        return ""
    if sent.tzinfo is None or abs(sent - received_at) <= CLOCK_SLACK:
        return ""
    local = timezone.localtime(sent)
    said = {"phone": f"{written.day(local)}, {local:%H:%M}", "shop": f"{timezone.localtime(received_at):%H:%M}"}
    return (
        _(
            "The clock of the phone is wrong: it showed %(phone)s when the shop had %(shop)s. Check the time that "
            "stands in the entry; how soon it was written down counts from its receipt."
        )
        % said
    )
