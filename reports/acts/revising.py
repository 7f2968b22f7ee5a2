"""The form about a seat that is different from a moment on: another basis clock, a separator, a new dipstick offset."""

from __future__ import annotations

from datetime import datetime
from typing import Any, ClassVar

from breakin.entries.sheet import Sheet
from breakin.services.installing import revise
from engines.models import BasisClock, Installation, Meter, MeterKind
from reports.acts.base import had
from reports.acts.seats import INSTRUMENTS, InstallForm
from shop.models import Person

_KEPT = (
    "basis_clock", "tach_per_hobbs", "min_oil_qt", "min_oil_source", "dipstick_offset_qt", "separator", "winter_kit",
    "prop_control",
    "rpm_error", "map_error_inhg", *(name for name, _ in INSTRUMENTS),
)  # fmt: skip


class ReviseForm(InstallForm):
    """The attributes of a seat as they are from a moment on, with the reason. Its engine and position stay."""

    groups: tuple[tuple[str, tuple[str, ...]], ...] = (
        ("From when, and why", ("at_date", "at_time", "reason")),
        ("Hour meters", ("basis_clock", "tach_per_hobbs")),
        ("Oil", ("min_oil_qt", "min_oil_source", "dipstick_offset_qt", "separator")),
        ("Fitted", ("prop_control", "winter_kit", "instruments", "rpm_error", "map_error_inhg")),
    )
    places: ClassVar[dict[str, str]] = {"at": "at_date"}

    def __init__(self, *args: Any, seat: Installation, **kwargs: Any) -> None:
        self.seat = seat
        super().__init__(*args, engine=seat.engine, may_fill=False, **kwargs)

    def ask_for(self) -> None:
        self.moment("at", "Different from")
        self.reason("Why?", "For example: separator or winter kit fitted, tachometer checked.")
        self._choice("basis_clock", "Basis clock", BasisClock.choices, "The clock that break-in hours are read on.")
        self.ask_attributes()

    def read(self, sheet: Sheet) -> None:
        self.at = self.read_moment(sheet, "at", "Different from")
        sheet.need("reason", "The reason", "Say in a few words why it is different.")
        sheet.need("basis_clock", "The basis clock", "Choose it.")
        read = {**self._read_attributes(sheet), "basis_clock": sheet.raw.get("basis_clock")}
        self.changed_to = {name: read.get(name) for name in _KEPT if read.get(name) != getattr(self.seat, name)}
        if not sheet.found.problems and not self.changed_to:
            sheet.problem("", "Nothing is different from what the book has. Change a field, or go back.")
        clock = self.changed_to.get("basis_clock")
        if clock in MeterKind.values and not self._runs(str(clock)):
            sheet.problem("basis_clock", f"No {MeterKind(clock).label} of this seat is in the book. Enter it first.")

    def _runs(self, kind: str) -> bool:
        meters = Meter.objects.filter(aircraft=self.seat.aircraft_id, position=self.seat.position, until__isnull=True)
        return meters.filter(kind=kind).exists()


def as_it_is(seat: Installation) -> dict[str, Any]:
    """What the form begins with."""
    values = {name: getattr(seat, name) for name in _KEPT}
    return {**values, "instruments": [name for name, _ in INSTRUMENTS if getattr(seat, name)]}


def revise_from(form: ReviseForm, by: Person, now: datetime) -> Installation:
    return revise(
        by=by, installation=form.seat, at=had(form.at), reason=form.cleaned_data["reason"], now=now, **form.changed_to
    )
