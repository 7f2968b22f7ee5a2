"""Two entries that look like one flight, side by side, and the form that says which one counts."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from uuid import UUID

from django import forms
from django.utils.text import capfirst

from breakin.entries.sheet import Sheet
from breakin.load import load
from breakin.models import Flight, MergeDecision, OilEvent, OilEventKind
from breakin.services.merging import merge_flights, what_would_change
from engines.models import Aircraft, Build
from reports.acts.base import ActForm
from reports.acts.what_if import Compared, compared
from reports.engine.tables import Table
from reports.engine.timeline import who_entered
from reports.quantities import level, minutes_text
from shop.errors import Refusal
from shop.forms import Chips
from shop.models import Person
from shop.templatetags.words import localwhen


@dataclass(frozen=True)
class Pair:
    """Two entries that look like one flight. By the judgement `counts` does until somebody decides."""

    counts: Flight
    left_out: Flight

    @property
    def key(self) -> str:
        """The pair in an address; a correction keeps it."""
        return f"{self.counts.root}~{self.left_out.root}"

    @property
    def both(self) -> tuple[Flight, Flight]:
        """In order of arrival: the first entry, the second one."""
        first, second = sorted((self.counts, self.left_out), key=lambda flight: (flight.received_at, flight.pk))
        return first, second

    def is_of(self, key: str) -> bool:
        """Does this address name the pair, whichever of the two counted when it was written?"""
        return set(key.split("~")) == {str(self.counts.root), str(self.left_out.root)}


def pairs_of(aircraft: Aircraft, now: datetime) -> tuple[Pair, ...]:
    """The possible duplicates of this aircraft as the judgement finds them, newest first."""
    builds = Build.objects.filter(engine__installations__aircraft=aircraft, assessment__live=True)
    records = load(builds.values_list("pk", flat=True).distinct(), now).values()
    found = {pair for record in records for pair in record.left_out}
    flights = Flight.objects.current().filter(aircraft=aircraft, root__in={root for pair in found for root in pair})
    by_root: dict[UUID, Flight] = {each.root: each for each in flights.select_related("entered_by", "on_behalf_of")}
    pairs = [Pair(by_root[counts], by_root[left]) for left, counts in found if {left, counts} <= set(by_root)]
    return tuple(sorted(pairs, key=lambda pair: (pair.counts.happened_at, pair.key), reverse=True))


def side_by_side(pair: Pair, units: str, zone: str) -> Table:
    """What each of the two says."""
    first, second = (_told(flight, units, zone) for flight in pair.both)
    rows = tuple((what, one, other) for (what, one), (_, other) in zip(first, second, strict=True))
    return Table(
        f"Two entries of {pair.counts.local_date:%-d %b %Y}",
        ("What", "First entry", "Second entry"),
        (*rows, _now(pair)),
    )


def _now(pair: Pair) -> tuple[str, str, str]:
    first, second = ("counts" if flight == pair.counts else "left out" for flight in pair.both)
    return "Until it is decided", first, second


def _told(flight: Flight, units: str, zone: str) -> list[tuple[str, str]]:
    runs = list(flight.engines.select_related("engine").order_by("pk"))
    oil = OilEvent.objects.current().filter(flight_root=flight.root).order_by("happened_at", "order", "pk")
    ends = [f"{run.meter_kind} {run.meter_end_h:.1f}" for run in runs if run.meter_end_h is not None]
    return [
        ("Who", capfirst(who_entered(flight))),
        ("Received", localwhen(flight.received_at, zone)),
        ("Written", localwhen(flight.written_at, zone)),
        ("Evidence", flight.get_grade_display()),
        ("Ended", localwhen(flight.happened_at, zone)),
        ("Airborne", minutes_text(flight.airborne_min)),
        ("Hours", ", ".join(f"{run.hours:.1f}\u202fh{' estimated' if run.hours_estimated else ''}" for run in runs)),
        ("Meter at the end", ", ".join(ends) or "not read"),
        ("Oil", "; ".join(_oil_words(oil, units)) or "nothing told"),
        ("In own words", flight.note or "none"),
    ]


def _oil_words(events: Iterable[OilEvent], units: str) -> list[str]:
    told = []
    for event in events:
        value = event.level_qt if event.kind == OilEventKind.READING else event.amount_qt
        amount = f" {level(value, None, units)}" if value is not None else ""
        told.append(f"{event.get_kind_display()}{amount}")
    return told


class MergeForm(ActForm):
    """Which of the two counts, and why."""

    def __init__(self, *args: Any, pair: Pair, **kwargs: Any) -> None:
        self.pair = pair
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        first, second = self.pair.both
        choices = [(str(first.root), "the first entry"), (str(second.root), "the second entry")]
        self.fields["kept"] = forms.ChoiceField(
            label="Which one counts?", choices=choices, required=False, widget=Chips
        )
        self.reason("Why are they one flight?", "It is kept with the decision. No entry is deleted.")
        self.fields["looked"] = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)
        self.on_page["looked"] = ""

    def read(self, sheet: Sheet) -> None:
        sheet.need("kept", "The entry that counts", "Choose one of the two.")
        sheet.need("reason", "The reason", "Say in a few words why the two are one flight.")

    @property
    def kept_and_dropped(self) -> tuple[Flight, Flight]:
        first, second = self.pair.both
        return (first, second) if self.cleaned_data["kept"] == str(first.root) else (second, first)

    @property
    def was_looked_at(self) -> bool:
        """Did the reader see what this choice changes?"""
        return bool(self.cleaned_data.get("looked")) and self.cleaned_data["looked"] == self.cleaned_data["kept"]


def preview_of(form: MergeForm, now: datetime) -> Sequence[Compared]:
    """What the merge would change for each build; empty where something is to be mended first."""
    if not form.is_valid():
        return ()
    try:
        found = what_would_change(*form.kept_and_dropped, now)
    except Refusal as refusal:
        form.refuse(refusal.problems)
        return ()
    form.on_page["looked"] = form.cleaned_data["kept"]
    return tuple(compared(f"build {build.number}", one, form.units) for build, one in found)


def merge_from(form: MergeForm, by: Person, now: datetime) -> MergeDecision:
    """Merge as the valid form says.

    Raises
    ------
    Refusal : see `merge_flights`.
    """
    kept, dropped = form.kept_and_dropped
    return merge_flights(by=by, kept=kept, dropped=dropped, reason=form.cleaned_data["reason"], now=now)
