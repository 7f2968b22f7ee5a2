"""The fleet board."""

from django.http import HttpRequest, HttpResponseBase
from django.shortcuts import render
from django.utils import timezone
from django.views.decorators.http import require_safe

from reports.fleet.board import board
from reports.fleet.board_query import Asked
from reports.reader import Reader, for_reader
from shop import access


@for_reader
@require_safe
def fleet_board(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "see_board")
    page = board(reader, Asked.of(request.GET.dict()), timezone.now())
    return render(request, "reports/board.html", {"board": page})
