"""The form in which a person says what the columns of a recorder are. It keeps what was typed and names each fault."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from typing import Any

from django import forms
from django.utils.translation import gettext as _

from breakin.calc.recording.scales import GROUPS
from reports.recordings.columns import (
    CHANNELS,
    CLOCK,
    COMMON,
    PER_CYLINDER,
    Asked,
    ColumnLine,
    ColumnsPage,
    mapping_of,
    unit_words,
    units_of,
)
from shop.forms import BookForm, Chips
from shop.models import ZONES

MOST_CYLINDERS = 18


@dataclass(frozen=True)
class Row:
    """A column with its fields."""

    line: ColumnLine
    channel: forms.BoundField
    side: forms.BoundField | None
    cylinder: forms.BoundField
    unit: forms.BoundField


class ColumnsForm(BookForm):
    """Fields of column number i are called c<i>-channel, c<i>-side, c<i>-cylinder and c<i>-unit.

    page : what was found. zones : likely zones of the recorder's clock, the likeliest first.
    """

    def __init__(self, *args: Any, page: ColumnsPage, zones: Sequence[str], **options: Any) -> None:
        super().__init__(*args, **options)
        self.page, self.zones = page, tuple(zones)
        for asked in page.questions:
            if asked.kind:
                self.fields[asked.field] = _answer(asked)
        for line in page.columns:
            self._add(line)
        before = page.before
        self.fields["clock_zone"] = forms.CharField(
            label=_("Zone that the recorder's clock is set to"),
            help_text=_("The zone's name, such as UTC, Etc/GMT+6 or Europe/Zurich."),
            max_length=64,
            initial=before.clock_zone if before else self.zones[0],
            widget=forms.TextInput(attrs={"list": "zones", "autocomplete": "off"}),
            error_messages={"required": _("Say the zone of the recorder's clock, UTC for one that keeps world time.")},
        )
        if page.position:
            self.fields["keep_position"] = forms.BooleanField(
                label=_("Keep latitude and longitude in what is read"),
                help_text=_("They are left out otherwise. The file itself stays as it came in any case."),
                required=False,
                initial=bool(before and before.keep_position),
            )

    def _add(self, line: ColumnLine) -> None:
        name, named = f"c{line.place}", {"column": line.name}
        choices = [("", _("leave it out")), *CHANNELS.items()]
        self.fields[f"{name}-channel"] = forms.ChoiceField(
            label=_("%(column)s: take it as") % named, choices=choices, required=False, initial=line.channel
        )
        if self.page.twin:
            sides = [("1", _("left")), ("2", _("right"))]
            self.fields[f"{name}-side"] = forms.ChoiceField(
                label=_("%(column)s: engine") % named, choices=sides, required=False, initial=line.side
            )
        self.fields[f"{name}-cylinder"] = forms.IntegerField(
            label=_("%(column)s: cylinder") % named,
            required=False,
            min_value=1,
            max_value=MOST_CYLINDERS,
            initial=line.cylinder,
            widget=forms.TextInput(attrs={"inputmode": "numeric", "autocomplete": "off", "size": "3"}),
            error_messages={
                "invalid": _("Write the cylinder as a whole number."),
                "min_value": _("Cylinders are counted from 1."),
                "max_value": _("No engine here has more than %(most)d cylinders.") % {"most": MOST_CYLINDERS},
            },
        )
        self.fields[f"{name}-unit"] = forms.ChoiceField(
            label=_("%(column)s: unit") % named, choices=_units_for(line.channel), required=False, initial=line.unit
        )

    def questions(self) -> Iterator[tuple[Asked, forms.BoundField | None]]:
        for asked in self.page.questions:
            yield asked, self[asked.field] if asked.kind else None

    def rows(self) -> Iterator[Row]:
        for line in self.page.columns:
            name = f"c{line.place}"
            side = self[f"{name}-side"] if self.page.twin else None
            yield Row(line, self[f"{name}-channel"], side, self[f"{name}-cylinder"], self[f"{name}-unit"])

    def clean_clock_zone(self) -> str:
        zone = str(self.cleaned_data["clock_zone"]).strip()
        if zone not in ZONES:
            raise forms.ValidationError(
                _("“%(zone)s” is not a time zone name. Write it like UTC, Etc/GMT+6 or Europe/Zurich.") % {"zone": zone}
            )
        return zone

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        held["lines"] = lines = [self._chosen(line) for line in self.page.columns]
        taken = [line for line in lines if line.channel]
        asked_groups = {each.group for each in self.page.questions if each.kind == "unit"}
        seen: dict[tuple[str, str, int | None], ColumnLine] = {}
        for line in taken:
            self._check(line, asked_groups)
            key = (line.channel, "" if line.channel in COMMON | CLOCK else line.side, line.cylinder)
            if key in seen:
                self._fault(line, "channel", _twice(seen[key], line))
            seen.setdefault(key, line)
        if not any(line.channel in CLOCK for line in taken):
            self.add_error(None, _("No column is taken as the time. Say which one holds it."))
        if not any(line.channel == "rpm" for line in taken):
            self.add_error(None, _("No column is taken as engine speed. Without it nothing can be told of the engine."))
        return held

    def mapping(self) -> dict[str, Any]:
        """What was chosen, as the reader takes it; the form is valid."""
        held = self.cleaned_data
        answers = {each.group: held[each.field] for each in self.page.questions if each.kind == "unit"}
        mapping = mapping_of([line for line in held["lines"] if line.channel], answers)
        if held.get("date_order"):
            mapping["date_order"] = held["date_order"]
        return mapping

    def _chosen(self, line: ColumnLine) -> ColumnLine:
        """The column as it was chosen in the form."""
        held, name = self.cleaned_data, f"c{line.place}"
        channel = str(held.get(f"{name}-channel") or "")
        named = [
            each.field for each in self.page.questions if each.kind == "column" and held.get(each.field) == line.name
        ]
        channel = named[0] if named else channel
        return replace(
            line,
            channel=channel,
            side=str(held.get(f"{name}-side") or "1"),
            cylinder=held.get(f"{name}-cylinder") if channel in PER_CYLINDER else None,
            unit=str(held.get(f"{name}-unit") or ""),
        )

    def _check(self, line: ColumnLine, asked_groups: set[str]) -> None:
        if line.channel in PER_CYLINDER and line.cylinder is None and f"c{line.place}-cylinder" not in self.errors:
            self._fault(line, "cylinder", _("Say which cylinder this is; 1 is the first."))
        units = units_of(line.channel)
        if line.channel in asked_groups or not units:
            return
        if not line.unit and len(units) > 1:
            offered = ", ".join(unit_words(each) for each in units)
            told = {"channel": CHANNELS[line.channel], "units": offered}
            self._fault(line, "unit", _("Say the unit of this column (%(channel)s): %(units)s.") % told)
        elif line.unit and line.unit not in units:
            offered = ", ".join(unit_words(each) for each in units)
            told = {"unit": unit_words(line.unit), "channel": CHANNELS[line.channel], "units": offered}
            said = _("%(unit)s does not fit this column (%(channel)s). Choose one of %(units)s.")
            self._fault(line, "unit", said % told)

    def _fault(self, line: ColumnLine, part: str, said: str) -> None:
        self.add_error(f"c{line.place}-{part}", said)


def _twice(first: ColumnLine, line: ColumnLine) -> str:
    told = {"column": first.name, "channel": CHANNELS[line.channel], "number": line.cylinder}
    if line.cylinder:
        said = _("“%(column)s” is taken as this already (%(channel)s, cylinder %(number)d). Leave one of them out.")
    else:
        said = _("“%(column)s” is taken as this already (%(channel)s). Leave one of them out.")
    return said % told


def _answer(asked: Asked) -> forms.Field:
    if asked.kind == "date":
        return forms.DateField(
            label=asked.text,
            help_text=_("By the recorder's clock."),
            widget=forms.DateInput(attrs={"type": "date"}),
            error_messages={
                "required": _("Say the day, like 2026-05-03."),
                "invalid": _("Write the day like 2026-05-03."),
            },
        )
    widget = forms.Select() if asked.kind == "column" else Chips()
    choices = [("", _("choose")), *asked.choices] if asked.kind == "column" else asked.choices
    return forms.ChoiceField(
        label=asked.text, choices=choices, widget=widget, error_messages={"required": _("Choose one of these.")}
    )


def _units_for(channel: str) -> list[Any]:
    """Every unit there is, those of the proposed channel first."""
    own = units_of(channel)
    others = dict.fromkeys(unit for units in GROUPS.values() for unit in units if unit not in own)
    rest = [(unit, unit_words(unit)) for unit in others]
    if not own:
        return [("", _("no unit")), *rest]
    named = [(unit, unit_words(unit)) for unit in own]
    return [("", _("not said")), *named, (_("other units"), rest)]
