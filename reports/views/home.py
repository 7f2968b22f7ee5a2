"""The first page of each reader."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import redirect
from django.views.decorators.http import require_safe

from reports.acts.first_steps import is_under_way
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def home(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    """Manager to the fleet board, technicians to the list of today, everybody else to their own engines.

    A manager of a book without a shop or a build is led to what comes first.
    """
    roles = access.staff_roles(reader.user)
    if "manager" in roles:
        return redirect("board" if is_under_way() else "first_steps")
    return redirect("today" if roles else "portal")
