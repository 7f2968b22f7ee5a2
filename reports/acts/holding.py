"""The form about an aircraft that changes hands."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar

from django import forms

from breakin.entries.sheet import Sheet
from breakin.models import Assessment, Flight
from breakin.services.holding import transfer
from engines.models import Aircraft, Holding, PilotAssignment
from reports.acts.base import ActForm, had
from shop.models import Customer, Person, Place


class TransferForm(ActForm):
    """Sold: to whom, when, and whether its pilots go with it."""

    places: ClassVar[dict[str, str]] = {"at": "at_date"}

    def __init__(self, *args: Any, aircraft: Aircraft, **kwargs: Any) -> None:
        self.aircraft = aircraft
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["customer"] = forms.ModelChoiceField(
            Customer.objects.order_by("name"), label="New holder", required=False, empty_label="choose",
            help_text="Not in the list? Enter it under Customers first, and invite whoever belongs to it.",
        )  # fmt: skip
        self.moment("at", "Handed over")
        self.fields["home"] = forms.ModelChoiceField(
            Place.objects.exclude(pk=self.aircraft.home_id).order_by("name"), label="New home field", required=False,
            empty_label=f"it stays at {self.aircraft.home.name}",
            help_text="A field that is missing is entered under Places first.",
        )  # fmt: skip
        self.reason("Why does it change hands?", "For example: sold.")
        self.fields["end_assignments"] = forms.BooleanField(
            label="Pilots who are assigned to it end with the old holder", required=False, initial=True
        )

    def read(self, sheet: Sheet) -> None:
        self.at = self.read_moment(sheet, "at", "Handed over")
        sheet.need("customer", "The new holder", "Choose the customer.")
        sheet.need("reason", "The reason", "Say in a few words why.")

    @property
    def moves_to(self) -> Place | None:
        """The home that was chosen, also where something else is to be mended."""
        chosen = self.cleaned_data.get("home") if self.is_bound and hasattr(self, "cleaned_data") else None
        return chosen if isinstance(chosen, Place) else None


def transfer_from(form: TransferForm, aircraft: Aircraft, by: Person, now: datetime) -> Holding:
    typed: dict[str, Any] = form.cleaned_data
    return transfer(
        by=by,
        aircraft=aircraft,
        customer=typed["customer"],
        at=had(form.at),
        reason=typed["reason"],
        end_assignments=typed["end_assignments"],
        home=typed["home"],
        now=now,
    )


@dataclass(frozen=True)
class Handover:
    """What goes with the aircraft, for the preview."""

    holding: Holding | None
    engines: tuple[str, ...]
    pilots: tuple[str, ...]
    flights: int
    last_flight: Flight | None


def handover_of(aircraft: Aircraft) -> Handover:
    held = Holding.objects.filter(aircraft=aircraft, until__isnull=True).select_related("customer").first()
    rows = Assessment.objects.filter(aircraft=aircraft, live=True).select_related("build__engine__engine_type")
    flights = Flight.objects.current().filter(aircraft=aircraft).order_by("-happened_at")
    pilots = PilotAssignment.objects.filter(aircraft=aircraft, until__isnull=True).select_related("person")
    return Handover(
        holding=held,
        engines=tuple(f"{row.build.engine}, build {row.build.number}: {row.get_phase_display()}" for row in rows),
        pilots=tuple(each.person.name for each in pilots),
        flights=flights.count(),
        last_flight=flights.first(),
    )
