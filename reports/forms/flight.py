"""The form of a flight: what holds for the whole flight, and one part an engine."""

from __future__ import annotations

import uuid
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime, timedelta
from typing import Any
from zoneinfo import ZoneInfo

from django import forms
from django.utils import timezone
from django.utils.translation import gettext as _

from breakin.calc.units import Kind
from breakin.entries.moments import EARLIEST, moments_of
from breakin.entries.ranges import FLIGHT
from breakin.models import Chip, FlightKind
from reports.forms.clock_change import add_clock_change
from reports.forms.engine import MOST_BLOCKS, BlockForm, EngineForm
from reports.forms.fields import NumberField, QuantityField, Steps, add_device_clock
from reports.forms.typed import minutes_of
from reports.pilot.log_flight_page import EngineSection
from shop.facts import CorrectionReason, Source
from shop.forms import BookForm, CheckChips, Chips
from shop.models import Person, Place
from shop.templatetags.words import utc_offset

FIRST_BLOCKS = 2
MORE_FIELDS = (
    "local_date", "local_time", "clock_change", "kind", "pilot", "place", "field_elevation", "altimeter", "oat_ground",
    "ground_before", "ground_after", "landings", "persons_aboard",
)  # fmt: skip


class FlightForm(BookForm):
    """What holds for the whole flight."""

    def __init__(
        self,
        *args: Any,
        sections: Sequence[EngineSection],
        system: str,
        zone: str,
        pilots: Sequence[Person] = (),
        for_others: bool = False,
        self_flies: bool = False,
        **kwargs: Any,
    ) -> None:
        super().__init__(*args, **kwargs)
        self.self_flies = self_flies
        self.fields["client_id"] = forms.UUIDField(required=False, widget=forms.HiddenInput)
        self.fields["new_client_id"] = forms.UUIDField(required=False, widget=forms.HiddenInput)
        add_device_clock(self)
        if for_others:
            self._teller(pilots)
        if len(sections) > 1:
            choices = [(section.key, section.name) for section in sections]
            self.fields["engines"] = forms.MultipleChoiceField(
                label=_("Which engines ran?"), choices=choices, required=False, widget=CheckChips
            )
        self.fields["airborne"] = NumberField(
            label=_("Minutes in the air"),
            unit="min",
            help_text=_("Minutes, or h:mm. 0 for a ground run only."),
            steps=Steps("5", "0", "840", "60"),
        )
        self.fields["chips"] = forms.MultipleChoiceField(
            label=_("Anything unusual?"), choices=Chip.choices, required=False, widget=CheckChips
        )
        self.fields["note"] = forms.CharField(
            label=_("In your own words"), required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
        )
        self._more(system, zone, pilots if not for_others else ())

    def _teller(self, pilots: Sequence[Person]) -> None:
        seen = [(Source.SHOP, _("flown or seen by the shop"))]
        self.fields["pilot"] = _person_field(
            _("Logged for: who flew?"), pilots, _("me") if self.self_flies else _("choose the pilot")
        )
        self.fields["source"] = forms.ChoiceField(
            label=_("How did you hear of it?"),
            choices=[(Source.PHONE, _("told by phone")), *([] if self.self_flies else seen)],
            required=False,
            widget=Chips,
        )

    def _more(self, system: str, zone: str, pilots: Sequence[Person]) -> None:
        self.fields["local_date"] = forms.CharField(
            label=_("Date it ended"), required=False, widget=forms.DateInput(attrs={"type": "date"})
        )
        self.fields["local_time"] = forms.CharField(
            label=_("Time it ended"),
            required=False,
            help_text=clock_words(zone),
            widget=forms.TimeInput(attrs={"type": "time"}),
        )
        add_clock_change(self, zone)
        self.fields["kind"] = forms.ChoiceField(label=_("Kind of flight"), choices=FlightKind.choices, required=False)
        if len(pilots) > 1:
            self.fields["pilot"] = _person_field(_("Who flew?"), pilots, _("me"))
        self.fields["place"] = forms.ModelChoiceField(
            Place.objects.all(),
            label=_("Field of take-off"),
            required=False,
            empty_label=_("another field, or not noted"),
        )
        self.fields["field_elevation"] = QuantityField(
            Kind.ALTITUDE, system, label=_("Its elevation"), help_text=_("Only for a field that is not in the list.")
        )
        self.fields["altimeter"] = QuantityField(Kind.PRESSURE_ALTIMETER, system, label=_("QNH"))
        self.fields["oat_ground"] = QuantityField(Kind.TEMPERATURE, system, label=_("Outside air on the ground"))
        self.fields["ground_before"] = NumberField(label=_("Engine minutes on the ground before take-off"), unit="min")
        self.fields["ground_after"] = NumberField(label=_("Engine minutes on the ground after landing"), unit="min")
        self.fields["landings"] = NumberField(label=_("Landings"))
        self.fields["persons_aboard"] = NumberField(label=_("Persons aboard, with the pilot"))

    @property
    def more_fields(self) -> list[forms.BoundField]:
        shown = [name for name in MORE_FIELDS if name in self.fields]
        return [self[name] for name in shown if not (name == "pilot" and "source" in self.fields)]


@dataclass(frozen=True)
class Wrong:
    """A field with errors as the summary lists it."""

    label: str
    auto_id: str
    errors: Sequence[str]


class FlightSheet:
    """The whole form: the flight, its engines, their power blocks.

    Bound with the data of a POST, or unbound with initial data in the same flat shape as a POST.
    """

    def __init__(
        self,
        data: Mapping[str, Any] | None = None,
        *,
        sections: Sequence[EngineSection],
        system: str,
        zone: str,
        pilots: Sequence[Person] = (),
        for_others: bool = False,
        self_flies: bool = False,
        initial: Mapping[str, Any] | None = None,
        oil: bool = True,
        correction: bool = False,
    ) -> None:
        self.sections = list(sections)
        self.data = data
        self.is_bound = data is not None
        self.zone = zone
        start = dict(initial or {})
        self.flight = FlightForm(
            data,
            sections=sections,
            system=system,
            zone=zone,
            pilots=pilots,
            for_others=for_others,
            self_flies=self_flies,
            initial=start,
        )
        if correction:
            self.flight.fields["reason"] = reason_field()
        self.engines: list[EngineForm] = []
        self.blocks: dict[str, list[BlockForm]] = {}
        for section in self.sections:
            own = _without_prefix(start, section.key)
            form = EngineForm(data, section=section, system=system, oil=oil, initial=own)
            self.engines.append(form)
            self.blocks[section.key] = [
                BlockForm(
                    data,
                    prefix=f"{section.key}-b{row}",
                    section=section,
                    system=system,
                    initial=_without_prefix(start, f"{section.key}-b{row}"),
                )
                for row in range(self._rows(section.key, start))
            ]

    def _rows(self, key: str, initial: Mapping[str, Any]) -> int:
        source: Mapping[str, Any] = self.data if self.data is not None else initial
        text = str(source.get(f"{key}-blocks", FIRST_BLOCKS))
        rows = int(text) if text.isdecimal() and len(text) < 4 else FIRST_BLOCKS
        if self.data is not None and self.data.get("add_block") == key:
            rows += 1
        return max(1, min(MOST_BLOCKS, rows))

    def parts(self) -> list[tuple[EngineForm, list[BlockForm]]]:
        return [(form, self.blocks[form.section.key]) for form in self.engines]

    def forms(self) -> Iterator[tuple[str, BookForm]]:
        """Every form with the words that tell its fields from those of the others."""
        yield "", self.flight
        for engine in self.engines:
            side = f"{engine.section.side}: " if engine.section.side else ""
            yield side, engine
            for number, block in enumerate(self.blocks[engine.section.key], start=1):
                yield side + _("block %(number)d:") % {"number": number} + " ", block

    def flown(self) -> list[EngineForm]:
        """The engines that ran on this flight."""
        if len(self.engines) == 1:
            return self.engines
        chosen = set(self.flight.cleaned_data.get("engines") or ())
        return [form for form in self.engines if form.section.key in chosen]

    def is_valid(self) -> bool:
        """Are the answers of the right shape? Values are judged by the parser of entries."""
        valid = all([form.is_valid() for _words, form in self.forms()])
        if len(self.engines) > 1 and not self.flown() and "engines" not in self.flight.errors:
            self.flight.add_error("engines", _("Choose the engine or engines that ran."))
            valid = False
        return valid

    def took_off(self) -> datetime | None:
        """When the flight of a valid sheet took off, by when it ended and its minutes; None for what can't be read."""
        typed = self.flight.cleaned_data
        found = moments_of(typed.get("local_date", ""), typed.get("local_time", ""), self.zone)
        minutes = minutes_of(typed.get("airborne"))
        if not found or found[0] < EARLIEST or minutes is None or not 0 <= minutes <= FLIGHT["airborne"].high:
            return None
        return found[-1 if typed.get("clock_change") == "after" else 0] - timedelta(minutes=minutes)

    def field_named(self, name: str) -> tuple[BookForm, str] | None:
        """The form and its own name for a field, by the name that the field is posted under."""
        for _words, form in self.forms():
            own = name[len(form.prefix) + 1 :] if form.prefix and name.startswith(f"{form.prefix}-") else name
            if own in form.fields and form.add_prefix(own) == name:
                return form, own
        return None

    def add_error(self, name: str, message: str) -> None:
        """Put a sentence at the field that is posted under this name, or at the top."""
        found = self.field_named(name)
        form, own = found if found else (self.flight, None)
        form.add_error(own if own and own in form.fields and not form[own].is_hidden else None, message)

    # What parts/errors.html asks of a form.

    @property
    def errors(self) -> list[str]:
        if not self.is_bound:
            return []
        return [*self.non_field_errors(), *[error for wrong in self for error in wrong.errors]]

    def more_is_wrong(self) -> bool:
        """Is something to be mended in the part that is folded away?"""
        return any(field.errors for field in self.flight.more_fields) or any(
            field.errors for engine in self.engines for field in engine.more_fields
        )

    def non_field_errors(self) -> list[str]:
        return (
            [str(error) for _words, form in self.forms() for error in form.non_field_errors()] if self.is_bound else []
        )

    def sentences(self) -> list[str]:
        """Every problem as one sentence, with the words of its field before it."""
        return [*self.non_field_errors(), *[f"{wrong.label}: {error}" for wrong in self for error in wrong.errors]]

    def __iter__(self) -> Iterator[Wrong]:
        for words, form in self.forms():
            for field in form:
                if field.errors:
                    label = f"{words}{field.label}" if words else str(field.label)
                    yield Wrong(label, field.auto_id, [str(error) for error in field.errors])


def fresh(
    now: datetime, zone: str, sections: Sequence[EngineSection], client_id: uuid.UUID, home: Place | None = None
) -> dict[str, Any]:
    """What an empty form starts with: its id, now by the person's own clock, the home field, all engines."""
    local = now.astimezone(ZoneInfo(zone))
    return {
        "client_id": str(client_id),
        "local_date": local.strftime("%Y-%m-%d"),
        "local_time": local.strftime("%H:%M"),
        "engines": [section.key for section in sections],
        "place": home.pk if home else None,
    }


def clock_words(zone: str) -> str:
    """Whose clock a typed time is read on."""
    offset = utc_offset(timezone.now().astimezone(ZoneInfo(zone)))
    return _("On your own clock, %(offset)s.") % {"offset": offset}


def reason_field() -> forms.ChoiceField:
    """Why an entry is corrected."""
    return forms.ChoiceField(
        label=_("What was wrong with it?"),
        choices=CorrectionReason.choices,
        widget=Chips,
        error_messages={"required": _("Choose what was wrong with the entry.")},
    )


def _person_field(label: str, people: Sequence[Person], empty: str) -> forms.ChoiceField:
    choices = [("", empty), *[(str(person.pk), person.name) for person in people]]
    return forms.ChoiceField(label=label, choices=choices, required=False)


def _without_prefix(data: Mapping[str, Any], prefix: str) -> dict[str, Any]:
    start = f"{prefix}-"
    return {name[len(start) :]: value for name, value in data.items() if name.startswith(start)}
