"""What a pilot does next about one engine, in the order in which it is done."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import gettext as _

from breakin.models import DueItem, DueState
from breakin.saying import text_for, title_for
from engines.models import Build, Installation
from reports.reader import Reader
from shop import access

ASKED = (DueState.DUE_SOON, DueState.DUE, DueState.LATE)
# What the shop does itself has its line with hours and date; these wait for the pilot.
OF_THE_PILOT = ("oil_reading", "answer", "flight", "leak")


@dataclass(frozen=True)
class Step:
    """One thing to do. url, label : where it is done, both "" where it is done on the phone or in the air."""

    head: str
    text: str
    url: str = ""
    label: str = ""


def owed_by_the_pilot(build: Build, seat: Installation, reader: Reader) -> tuple[Step, ...]:
    """What is asked of whoever flies it, the oldest first."""
    asked = DueItem.objects.filter(build=build, state__in=ASKED, kind__in=OF_THE_PILOT).order_by("opened_at", "id")
    return tuple(_step(row, seat, reader.units) for row in access.visible_to(reader.user, asked))


def _step(row: DueItem, seat: Installation, units: str) -> Step:
    head, text = f"{title_for(row, units)}.", text_for(row, units)
    if row.kind == "oil_reading":
        return Step(head, text, reverse("oil_reading", args=[seat.engine_id]), _("Send the oil reading"))
    if row.kind in ("answer", "flight"):
        return Step(head, text, reverse("log_flight", args=[seat.aircraft_id]), _("Log a flight"))
    return Step(head, text)


def in_order(
    *,
    stopped: bool,
    calls: int,
    owed: Sequence[Step],
    next_flight: str,
    visit: str,
    shop_name: str,
    before_flight_one: str = "",
) -> tuple[Step, ...]:
    """The list: a Stop or a call, what is owed, the tour, the next flight, the next visit to the shop.

    before_flight_one : address of the tour, where the first flight is still to come.
    """
    steps: list[Step] = []
    if stopped:
        said = _("Phone %(shop)s now. Only a technician clears a Stop.") % {"shop": shop_name}
        steps.append(Step(_("Do not fly."), said))
    elif calls:
        head = _("Phone %(shop)s before the next flight.") % {"shop": shop_name}
        steps.append(Step(head, _("What about stands below.")))
    steps += owed
    if before_flight_one:
        said = _("Five cards with the numbers of your engine, two minutes.")
        steps.append(Step(_("Before flight one."), said, before_flight_one, _("Read the tour")))
    if next_flight and not stopped:
        steps.append(Step(_("Next flight."), next_flight))
    if visit:
        steps.append(Step(_("When to come in."), visit))
    return tuple(steps)
