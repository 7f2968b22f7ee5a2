"""How a page of an act answers: the form as asked for, or what was done."""

from __future__ import annotations

from collections.abc import Callable
from datetime import datetime
from typing import Any, TypeVar

from django.http import HttpRequest, HttpResponse
from django.shortcuts import render

from reports.acts.base import NOBODY, ActForm
from reports.reader import Reader
from shop.errors import Refusal
from shop.models import Person

F = TypeVar("F", bound=ActForm)
T = TypeVar("T")


def form_of(
    request: HttpRequest, reader: Reader, now: datetime, form: type[F], start: dict[str, Any], **more: Any
) -> F:
    """The form with what was posted, or as it begins."""
    asked: dict[str, Any] = {"units": reader.units, "zone": reader.zone, "now": now, **more}
    return form(request.POST, **asked) if request.method == "POST" else form(initial=start, **asked)


def done(reader: Reader, form: ActForm, do: Callable[[Person], T]) -> T | None:
    """What the service made of a posted form; None where something is to be mended or confirmed first."""
    if not form.is_bound or not form.is_valid() or form.asked:
        return None
    if reader.person is None:
        form.add_error(None, NOBODY)
        return None
    try:
        return do(reader.person)
    except Refusal as refusal:
        form.refuse(refusal.problems)
        return None


def shown(request: HttpRequest, template: str, form: ActForm | None, **context: Any) -> HttpResponse:
    """The page with its form; what came back to be mended or confirmed answers 422."""
    status = 422 if request.method == "POST" else 200
    return render(request, f"reports/acts/{template}.html", {"form": form, **context}, status=status)
