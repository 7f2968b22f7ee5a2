"""A measured value in a form: what was typed, and the unit that was chosen beside it.

The field judges nothing. It hands on ``{"value": text, "unit": name}`` as typed; the parser of entries reads it, and
what it refuses comes back to the field with the text still in it.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.exceptions import ValidationError
from django.utils.functional import Promise
from django.utils.translation import gettext as _

from breakin.calc.units import Kind, display_unit, written
from shop.forms import Chips, Stepper

# What a person may choose beside a field. Rarer units can be typed behind the number.
OFFERED: dict[Kind, tuple[str, ...]] = {
    Kind.VOLUME: ("qt", "L", "imp qt"),
    Kind.TEMPERATURE: ("degF", "degC"),
    Kind.FUEL_FLOW: ("gal/h", "L/h"),
    Kind.PRESSURE_MANIFOLD: ("inHg", "hPa"),
    Kind.PRESSURE_ALTIMETER: ("hPa", "inHg"),
    Kind.OIL_PRESSURE: ("psi", "bar"),
    Kind.ALTITUDE: ("ft", "m"),
}


@dataclass(frozen=True)
class Steps:
    """What the two buttons beside a number do, as text in the unit shown first."""

    step: str = "1"
    low: str = ""
    high: str = ""
    start: str = ""


class QuantityInput(Stepper):
    """A number with a choice of its unit. Posts two values: ``name`` and ``name_unit``."""

    template_name = "reports/portal/widgets/quantity.html"

    def __init__(self, units: Sequence[str], steps: Steps | None = None, attrs: dict[str, Any] | None = None) -> None:
        chosen = steps or Steps()
        super().__init__(step=chosen.step, low=chosen.low, high=chosen.high, start=chosen.start, attrs=attrs)
        self.units = tuple(units)
        self.has_buttons = steps is not None

    def value_from_datadict(self, data: Mapping[str, Any], files: Any, name: str) -> dict[str, str] | None:
        text = data.get(name)
        if text is None:
            return None
        return {"value": text, "unit": data.get(f"{name}_unit") or self.units[0]}

    def value_omitted_from_data(self, data: Mapping[str, Any], files: Any, name: str) -> bool:
        return name not in data

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        typed = value if isinstance(value, Mapping) else {"value": value, "unit": self.units[0]}
        context: dict[str, Any] = super().get_context(name, typed.get("value"), attrs)
        unit = str(typed.get("unit") or self.units[0])
        offered = self.units if unit in self.units else (*self.units, unit)
        context["widget"] |= {
            "units": [(each, written(each), each == unit) for each in offered],
            "only_unit": written(unit) if len(offered) == 1 else "",
            "has_buttons": self.has_buttons,
        }
        return context


class QuantityField(forms.Field):
    """One measured value. Cleans to None (left empty) or ``{"value": text, "unit": name}``."""

    widget: QuantityInput

    def __init__(
        self,
        kind: Kind,
        system: str,
        *,
        label: str,
        help_text: str = "",
        steps: Steps | None = None,
        units: Sequence[str] | None = None,
    ) -> None:
        self.kind = kind
        mine = display_unit(kind, system)
        offered = units if units is not None else OFFERED.get(kind, (mine,))
        ordered = (mine, *(unit for unit in offered if unit != mine))
        super().__init__(label=label, help_text=help_text, required=False, widget=QuantityInput(ordered, steps))

    def clean(self, value: Any) -> dict[str, str] | None:
        if not isinstance(value, Mapping) or not str(value.get("value") or "").strip():
            return None
        unit = str(value.get("unit", ""))
        if len(unit) > 12:
            raise ValidationError(_("This unit is not known here. Choose one from the list."))
        return {"value": str(value["value"]).strip(), "unit": unit}


class NumberField(forms.CharField):
    """A number without a choice of unit (minutes, a meter, rpm), kept as the text that was typed."""

    def __init__(
        self, *, label: str, unit: str = "", help_text: str = "", steps: Steps | None = None, **extra: Any
    ) -> None:
        widget: forms.TextInput
        if steps is None:
            widget = Plain(unit=unit)
        else:
            widget = Stepper(unit=unit, step=steps.step, low=steps.low, high=steps.high, start=steps.start)
        super().__init__(label=label, help_text=help_text, required=False, max_length=40, widget=widget, **extra)


def add_device_clock(form: forms.Form) -> None:
    """When it was written and when it was sent, by the clock of the device; only script can fill them in."""
    for name in ("written_at", "sent_at"):
        form.fields[name] = forms.CharField(required=False, max_length=40, widget=forms.HiddenInput)


class Plain(Stepper):
    """A number with its unit and without buttons."""

    template_name = "reports/portal/widgets/plain.html"


class ChoiceChips(forms.ChoiceField):
    """One of a few, none of them chosen for the person. Left empty it cleans to ""."""

    def __init__(
        self, *, label: str, choices: Sequence[tuple[str, str | Promise]], help_text: str = "", **extra: Any
    ) -> None:
        super().__init__(
            label=label,
            choices=choices,
            help_text=help_text,
            required=False,
            widget=extra.pop("widget", Chips),
            **extra,
        )
