"""Forms about where an engine sits: into an aircraft, out of it, left against right, another hour meter."""

from __future__ import annotations

import uuid
from datetime import datetime
from typing import Any, ClassVar

from django import forms
from django.db import transaction

from breakin.calc.units import Kind
from breakin.entries import OilEntry, parse_oil
from breakin.entries.ranges import METER, Range
from breakin.entries.sheet import Sheet
from breakin.models import OilEventKind, OilKind
from breakin.services.accessories import done_with_engine
from breakin.services.installing import MeterEntry, change_meter, install, remove, swap
from breakin.services.oil import add_oil
from engines.models import (
    Aircraft,
    BasisClock,
    Engine,
    EngineTypeRevision,
    Induction,
    Installation,
    Meter,
    MeterKind,
    Position,
    PropControl,
)
from reports.acts.accessories import acts_in, field_of, total_in_book, with_engine_fields
from reports.acts.base import ActForm, had, read_decimal, read_needed, text_field
from reports.forms.fields import NumberField, QuantityField, Steps
from shop.errors import Refusal
from shop.facts import Source
from shop.forms import CheckChips, Chips
from shop.models import Person

INSTRUMENTS = (
    ("has_map", "manifold pressure"),
    ("has_fuel_flow", "fuel flow"),
    ("has_cht_per_cylinder", "head temperature of each cylinder"),
    ("has_tit", "turbine inlet temperature"),
)
MIN_OIL = Range("Minimum oil for flight", Kind.VOLUME, 0.5, 60, mend="It stands in the POH/AFM; check the unit.")
OFFSET = Range("Offset of the dipstick", Kind.VOLUME, -3, 3, -0.5, 0.5)
RPM_ERROR = Range("Error of the tachometer", Kind.SPEED_RPM, -500, 500, -100, 100)
MAP_ERROR = Range("Error of the manifold gauge", Kind.PRESSURE_MANIFOLD, -10, 10, -1, 1)
FILL = ("filled", "oil_kind", "brand")


class InstallForm(ActForm):
    """An engine into a position of an aircraft, and its first oil where a technician fills it in."""

    groups: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("Where and when", ("registration", "position", "since_date", "since_time")),
        ("Hour meters", ("basis_clock", *(f"{kind}_h" for kind in MeterKind.values), "tach_per_hobbs")),
        ("Oil", ("min_oil_qt", "min_oil_source", "dipstick_offset_qt", "separator")),
        ("Fitted", ("prop_control", "winter_kit", "instruments", "rpm_error", "map_error_inhg")),
        ("First fill", FILL),
    )
    places: ClassVar[dict[str, str]] = {
        "aircraft": "registration",
        "since": "since_date",
        "happened_at": "since_date",
        "engine": "registration",
    }

    def __init__(self, *args: Any, engine: Engine, may_fill: bool, **kwargs: Any) -> None:
        self.engine, self.may_fill = engine, may_fill
        self.aircraft: Aircraft | None = None
        self.fill: OilEntry | None = None
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["client_id"] = forms.UUIDField(required=False, widget=forms.HiddenInput)
        self.fields["registration"] = text_field("Aircraft", 12, "Its registration, as it stands in the book.")
        self.fields["registration"].widget.attrs["list"] = "registrations"
        self._choice("position", "Position", Position.choices)
        self.moment("since", "Installed")
        self._choice("basis_clock", "Basis clock", BasisClock.choices, "The one clock that break-in hours are read on.")
        for kind in MeterKind:
            self.fields[f"{kind}_h"] = NumberField(
                label=f"{kind.label[0].upper()}{kind.label[1:]} reads",
                unit="h",
                help_text="Empty where there is none, or where it ran on from the engine before.",
            )
        self.ask_attributes()
        if self.may_fill:
            self._volume("filled", "Oil filled", "By measure. Empty if it is filled later.", Steps("0.25", "0"))
            self._choice("oil_kind", "Kind of oil", OilKind.choices)
            self.fields["brand"] = text_field("Brand and grade", 80)
        carried = with_engine_fields(self.engine)
        self.fields |= carried
        if carried:
            self.groups = (*self.groups, ("Accessories keep their own clocks", tuple(carried)))

    def ask_attributes(self) -> None:
        """What a seat has: minimum oil, dipstick, propeller, instruments and their errors."""
        self.fields["tach_per_hobbs"] = NumberField(
            label="Tach hours to one Hobbs hour", help_text="Usually 0.85. Empty: learned from the flights."
        )
        quarter = Steps("0.25", "0")
        self._volume("min_oil_qt", "Minimum oil for flight", "From the POH/AFM of this aircraft.", quarter)
        self.fields["min_oil_source"] = text_field("Where that stands", 120, "Document, section and revision.")
        self._volume(
            "dipstick_offset_qt", "Dipstick offset", "Added to what the stick shows, from the pour-in. Often 0."
        )
        self.fields["separator"] = forms.BooleanField(label="An air-oil separator is fitted", required=False)
        self.fields["winter_kit"] = forms.BooleanField(label="The winter kit is fitted", required=False)
        self._choice("prop_control", "Propeller", PropControl.choices)
        self.fields["instruments"] = forms.MultipleChoiceField(
            label="Instruments", choices=INSTRUMENTS, required=False, widget=CheckChips
        )
        self.fields["rpm_error"] = NumberField(
            label="Tachometer error, reading minus true", unit="rpm", help_text="Empty if not checked."
        )
        self.fields["map_error_inhg"] = QuantityField(
            Kind.PRESSURE_MANIFOLD, self.units, label="Manifold gauge error, reading minus true"
        )

    def _choice(self, name: str, label: str, choices: Any, help_text: str = "") -> None:
        self.fields[name] = forms.ChoiceField(
            label=label, choices=choices, help_text=help_text, required=False, widget=Chips
        )

    def _volume(self, name: str, label: str, help_text: str, steps: Steps | None = None) -> None:
        self.fields[name] = QuantityField(Kind.VOLUME, self.units, label=label, help_text=help_text, steps=steps)

    def place_of(self, field: str) -> str:
        if field.startswith("meters."):
            index = int(field.split(".")[1])
            return f"{self.meters[index].kind}_h" if index < len(self.meters) else "basis_clock"
        if field.startswith("accessory."):
            return field_of(field)
        return super().place_of(field)

    def read(self, sheet: Sheet) -> None:
        self.aircraft = self._read_aircraft(sheet)
        sheet.need("position", "The position", "Choose it.")
        sheet.need("basis_clock", "The basis clock", "Choose it.")
        self.since = self.read_moment(sheet, "since", "Installed")
        self.meters = [
            MeterEntry(kind, reading)
            for kind in MeterKind.values
            if (reading := sheet.quantity(f"{kind}_h", METER)) is not None
        ]
        self._check_meters(sheet)
        self.attributes: dict[str, Any] = self._read_attributes(sheet)
        if self.may_fill:
            self._read_fill(sheet)

    def _read_aircraft(self, sheet: Sheet) -> Aircraft | None:
        typed = sheet.text("registration", "Aircraft", 12)
        if not typed:
            sheet.problem("registration", "Which aircraft? Type its registration.")
            return None
        aircraft = Aircraft.objects.filter(registration__iexact=typed).first()
        if aircraft is None:
            sheet.problem(
                "registration", f"No aircraft “{typed}” is in the book. Check it, or enter it under Records first."
            )
        return aircraft

    def _check_meters(self, sheet: Sheet) -> None:
        """Each meter starts somewhere, and one that runs there already is not started twice."""
        if self.aircraft is None or not sheet.given("position"):
            return
        running = set(
            Meter.objects.filter(
                aircraft=self.aircraft, position=sheet.raw["position"], until__isnull=True
            ).values_list("kind", flat=True)
        )
        for meter in self.meters:
            if meter.kind in running:
                sheet.problem(
                    f"{meter.kind}_h",
                    f"A {MeterKind(meter.kind).label} runs there already and goes on counting. Leave this empty; if it "
                    "was replaced, enter a change of meter.",
                )
        basis = sheet.raw.get("basis_clock")
        if basis in MeterKind.values and basis not in running and not sheet.given(f"{basis}_h"):
            sheet.problem(
                f"{basis}_h", f"Break-in hours are read on this clock: what does the {MeterKind(basis).label} read now?"
            )

    def _read_attributes(self, sheet: Sheet) -> dict[str, Any]:
        fitted = set(sheet.raw.get("instruments") or ())
        source = sheet.text("min_oil_source", "Where that stands", 120)
        if not source:
            sheet.problem("min_oil_source", "Where does the minimum stand? Name the document.")
        read: dict[str, Any] = {
            "min_oil_qt": read_needed(sheet, "min_oil_qt", MIN_OIL, "It stands in the POH/AFM."),
            "min_oil_source": source,
            "dipstick_offset_qt": sheet.quantity("dipstick_offset_qt", OFFSET) or 0.0,
            "separator": bool(sheet.raw.get("separator")),
            "winter_kit": bool(sheet.raw.get("winter_kit")),
            "tach_per_hobbs": read_decimal(sheet, "tach_per_hobbs", "Tach hours to one Hobbs hour", 0.5, 1.2),
            "rpm_error": sheet.quantity("rpm_error", RPM_ERROR) or 0.0,
            "map_error_inhg": sheet.quantity("map_error_inhg", MAP_ERROR) or 0.0,
            **{name: name in fitted for name, _ in INSTRUMENTS},
        }
        if sheet.need("prop_control", "The propeller", "Choose fixed pitch or constant speed."):
            read["prop_control"] = sheet.raw["prop_control"]
        revision = newest_revision(self.engine)
        minimum = read["min_oil_qt"]
        if revision is not None and minimum is not None and minimum > revision.sump_full_qt:
            full = f"the full mark of this type, {revision.sump_full_qt:g} qt"
            sheet.problem(
                "min_oil_qt", f"A minimum of {minimum:.2f} qt is above {full}. Check the number and its unit."
            )
        return read

    def _read_fill(self, sheet: Sheet) -> None:
        if not sheet.given("filled"):
            for name in ("oil_kind", "brand"):
                if sheet.given(name):
                    sheet.problem("filled", "How much was filled? Type it, or empty the fields about the oil.")
                    return
            return
        if self.since is None:
            return
        raw = {
            "client_id": sheet.raw.get("client_id") or uuid.uuid4(),
            "engine_id": self.engine.pk,
            "kind": OilEventKind.DRAIN_FILL.value,
            "happened_at": self.since.isoformat(),
            "confirmed": sorted(sheet.found.confirmed),
            **{name: sheet.raw[name] for name in FILL if sheet.given(name)},
        }
        try:
            self.fill = parse_oil(raw, units=self.units, zone=self.zone, now=self.now)
        except Refusal as refusal:
            sheet.found.problems += refusal.problems
            return
        # The date was asked about already.
        sheet.found.warnings += [each for each in self.fill.warnings if each.field != "happened_at"]


@transaction.atomic
def install_from(form: InstallForm, by: Person, now: datetime) -> Installation:
    """Install, and keep the first fill; both or neither.

    Raises
    ------
    Refusal : with every problem found.
    """
    typed = form.cleaned_data
    seat = install(
        by=by,
        engine=form.engine,
        aircraft=had(form.aircraft),
        position=typed["position"],
        since=had(form.since),
        basis_clock=typed["basis_clock"],
        meters=form.meters,
        now=now,
        **form.attributes,
    )
    done_with_engine(
        by=by, engine=form.engine, acts=acts_in(typed), done_on=had(form.since).date(),
        total_time_h=total_in_book(form.engine), words=f"Installed in {seat.aircraft.registration}.", now=now,
    )  # fmt: skip
    if form.fill is not None:
        add_oil(by=by, engine=form.engine, entry=form.fill, now=now, source=Source.SHOP)
    return seat


def newest_revision(engine: Engine) -> EngineTypeRevision | None:
    return EngineTypeRevision.objects.filter(engine_type=engine.engine_type_id).order_by("-number").first()


def fitted_to(engine: Engine) -> dict[str, Any]:
    """What an installation of this engine usually has, to begin the form with."""
    revision = newest_revision(engine)
    fixed = revision is not None and revision.prop_control == PropControl.FIXED
    turbo = revision is not None and revision.induction in (Induction.TURBOCHARGED, Induction.TURBO_NORMALISED)
    instruments = ["has_map", "has_fuel_flow", "has_cht_per_cylinder", *(["has_tit"] if turbo else [])]
    return {
        "client_id": str(uuid.uuid4()),
        "position": Position.SINGLE,
        "basis_clock": BasisClock.TACH,
        "prop_control": PropControl.FIXED if fixed else PropControl.CONSTANT_SPEED,
        "instruments": [] if fixed else instruments,
        "min_oil_source": "POH/AFM",
    }


class RemoveForm(ActForm):
    """An engine out of its aircraft."""

    places: ClassVar[dict[str, str]] = {"at": "at_date"}

    def ask_for(self) -> None:
        self.moment("at", "Removed")
        self.reason("Why is it removed?")

    def read(self, sheet: Sheet) -> None:
        self.at = self.read_moment(sheet, "at", "Removed")
        sheet.need("reason", "The reason", "Say in a few words why it is removed.")


def remove_from(form: RemoveForm, seat: Installation, by: Person, now: datetime) -> Installation:
    return remove(by=by, installation=seat, at=had(form.at), reason=form.cleaned_data["reason"], now=now)


class SwapForm(ActForm):
    """Left against right. `seats` says which seats the preview showed."""

    places: ClassVar[dict[str, str]] = {"at": "at_date"}

    def __init__(self, *args: Any, shown: str, **kwargs: Any) -> None:
        self.shown = shown
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.on_page["seats"] = self.shown
        self.fields["seats"] = forms.CharField(required=False, max_length=60, widget=forms.HiddenInput)
        self.moment("at", "Swapped")
        self.reason("Why were they swapped?")
        self.fields["sure"] = forms.BooleanField(
            label="Both engines are out of their nacelles and in the other one, as shown under “After”", required=False
        )

    def read(self, sheet: Sheet) -> None:
        self.at = self.read_moment(sheet, "at", "Swapped")
        sheet.need("reason", "The reason", "Say in a few words why they were swapped.")
        if sheet.raw.get("seats") != self.shown:
            sheet.problem("", "Who sits where has changed since you opened this page. Look at the table again.")
        if not sheet.raw.get("sure"):
            sheet.problem("sure", "Compare the serial numbers on the data plates with the table, then set this.")


def swap_from(form: SwapForm, aircraft: Aircraft, by: Person, now: datetime) -> tuple[Installation, Installation]:
    return swap(by=by, aircraft=aircraft, at=had(form.at), reason=form.cleaned_data["reason"], now=now)


class MeterForm(ActForm):
    """One hour meter was replaced, or rolled over."""

    places: ClassVar[dict[str, str]] = {
        "at": "at_date",
        "meters.0.reading_h": "new_reading_h",
        "meters.1.reading_h": "old_reading_h",
    }

    def __init__(self, *args: Any, meters: list[Meter], **kwargs: Any) -> None:
        self.meters = {str(meter.pk): meter for meter in meters}
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["meter"] = forms.ChoiceField(
            label="Which meter?",
            choices=[(key, meter_words(meter)) for key, meter in self.meters.items()],
            required=False,
            widget=Chips(attrs={"class": "chips--column"}),
        )
        self.moment("at", "Changed")
        self.fields["old_reading_h"] = NumberField(label="The old one showed last", unit="h")
        self.fields["new_reading_h"] = NumberField(label="The new one shows first", unit="h")
        self.fields["serial"] = text_field("Serial number of the new meter", 40)

    def read(self, sheet: Sheet) -> None:
        sheet.need("meter", "The meter", "Choose the one that was changed.")
        self.at = self.read_moment(sheet, "at", "Changed")
        self.old = read_needed(sheet, "old_reading_h", _named("The old reading"), "It keeps the hours whole.")
        self.new = read_needed(sheet, "new_reading_h", _named("The new reading"), "0 is a reading too.")


def change_from(form: MeterForm, by: Person, now: datetime) -> Meter:
    meter = form.meters[form.cleaned_data["meter"]]
    return change_meter(
        by=by,
        aircraft=meter.aircraft,
        position=meter.position,
        kind=meter.kind,
        at=had(form.at),
        old_reading_h=had(form.old),
        new_reading_h=had(form.new),
        serial=form.cleaned_data["serial"],
        now=now,
    )


def meter_words(meter: Meter) -> str:
    side = "" if meter.position == Position.SINGLE else f", {meter.get_position_display()}"
    serial = f", s/n {meter.serial}" if meter.serial else ""
    return f"{meter.get_kind_display()}{side}{serial}: from {meter.reading_at_start_h:.1f} h on {meter.since:%Y-%m-%d}"


def _named(label: str) -> Range:
    return Range(label, METER.kind, METER.low, METER.high, mend=METER.mend)
