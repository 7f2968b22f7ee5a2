"""Customers and the people who belong to them: looked at, entered and changed by the shop."""

from __future__ import annotations

from django.contrib import messages
from django.http import Http404, HttpRequest, HttpResponseBase
from django.shortcuts import get_object_or_404, redirect, render
from django.utils import timezone
from django.views.decorators.http import require_http_methods, require_safe

from reports.acts import customers as page
from reports.acts.doing import done, form_of, shown
from reports.reader import Reader, for_reader
from shop import access
from shop.customers import members_now
from shop.models import ZONES, Customer

METHODS = ["GET", "HEAD", "POST"]


@for_reader
@require_safe
def customers(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "change_customer")
    after = request.GET.get("after", "")
    skip = int(after) if after.isascii() and after.isdigit() and len(after) < 8 else 0
    found = page.customers(timezone.now(), q=request.GET.get("q", "").strip()[:80], after=skip)
    return render(request, "reports/acts/customers.html", {"page": found, "skip": skip})


@require_http_methods(METHODS)
@for_reader
def customer_new(request: HttpRequest, reader: Reader) -> HttpResponseBase:
    access.require(reader.user, "change_customer")
    now = timezone.now()
    form = form_of(request, reader, now, page.CustomerForm, {})
    made = done(reader, form, lambda by: page.customer_from(form, None, by, now))
    if made is None:
        return shown(request, "customer", form, customer=None)
    messages.success(request, f"{made.name} is in the book.")
    return redirect("customer", made.pk)


@require_http_methods(METHODS)
@for_reader
def customer(request: HttpRequest, reader: Reader, customer_id: int) -> HttpResponseBase:
    """One customer with its people, and what was changed about them."""
    of = _customer(reader, customer_id)
    now = timezone.now()
    form = form_of(request, reader, now, page.CustomerForm, {"name": of.name, "phone": of.phone})
    changed = done(reader, form, lambda by: page.customer_from(form, of, by, now))
    if changed is None:
        members = page.members_of(of, now)
        context = {"customer": of, "members": members, "changes": page.history_of(of, members)}
        return shown(request, "customer", form, **context)
    messages.success(request, f"{changed.name} is kept.")
    return redirect("customer", of.pk)


@require_http_methods(METHODS)
@for_reader
def customer_person(request: HttpRequest, reader: Reader, customer_id: int, person_id: int) -> HttpResponseBase:
    of = _customer(reader, customer_id)
    now = timezone.now()
    member = get_object_or_404(members_now(of, now), person=person_id)
    form = form_of(request, reader, now, page.CustomerPersonForm, page.person_as_it_is(member.person))
    changed = done(reader, form, lambda by: page.person_from(form, of, member.person, by, now))
    if changed is None:
        context = {"customer": of, "person": member.person, "zones": sorted(ZONES)}
        return shown(request, "customer_person", form, **context)
    messages.success(request, f"{changed.name} is kept.")
    return redirect("customer", of.pk)


def _customer(reader: Reader, customer_id: int) -> Customer:
    """The customer, for the shop. Outside it nobody learns whether there is one."""
    if not access.is_staff_member(reader.user):
        raise Http404("No such customer.")
    found = get_object_or_404(Customer, pk=customer_id)
    access.require(reader.user, "change_customer")
    return found
