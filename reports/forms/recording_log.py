"""What a person adds when a recorded flight is logged: meter readings, who flew, what was noticed."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.http import QueryDict
from django.utils.text import capfirst
from django.utils.translation import gettext as _

from breakin.models import Chip
from breakin.saying import spoken
from reports.forms.fields import NumberField, Steps
from reports.pilot.log_flight_page import EngineSection
from shop import written
from shop.errors import Refusal
from shop.forms import BookForm, CheckChips, Chips
from shop.models import Person


class LogRecordedForm(BookForm):
    """sections : the engines that were recorded. pilots : who may have flown, asked only where `for_others`.

    Who is one of them himself comes in as the initial pilot, and has flown where nothing is said.
    """

    def __init__(
        self,
        *args: Any,
        sections: Sequence[EngineSection],
        pilots: Sequence[Person] = (),
        for_others: bool = False,
        **options: Any,
    ) -> None:
        super().__init__(*args, **options)
        self.sections, self.pilots = tuple(sections), tuple(pilots)
        if for_others:
            self.fields["pilot"] = forms.ChoiceField(
                label=_("Who flew?"),
                choices=[(str(person.pk), person.name) for person in pilots],
                widget=Chips(),
                required=not self.initial.get("pilot"),
                error_messages={"required": _("Choose who flew: the entry is made for that person.")},
            )
        for section in self.sections:
            if section.has_meter:
                self.fields[f"{section.key}-meter_end"] = _meter(section)
        self.fields["chips"] = forms.MultipleChoiceField(
            label=_("What was noticed?"), choices=Chip.choices, required=False, widget=CheckChips()
        )
        self.fields["note"] = forms.CharField(
            label=_("Words to the shop"), required=False, max_length=4000, widget=forms.Textarea(attrs={"rows": 3})
        )
        self.fields["confirmed"] = forms.CharField(required=False, widget=forms.HiddenInput)
        self.asks_again = False

    def raw(self) -> dict[str, Any]:
        """As `log_from_recording` takes it."""
        held = self.cleaned_data
        engines = [
            {"engine_id": section.engine.pk, "meter_end": typed}
            for section in self.sections
            if (typed := str(held.get(f"{section.key}-meter_end") or "").strip())
        ]
        confirmed = [name for name in str(held.get("confirmed") or "").split(" ") if name]
        raw: dict[str, Any] = {"engines": engines, "chips": held["chips"], "note": held["note"]}
        return {**raw, "confirmed": confirmed} if confirmed else raw

    def pilot(self) -> Person | None:
        chosen = self.cleaned_data.get("pilot")
        return next((person for person in self.pilots if str(person.pk) == chosen), None)

    def put_problems(self, refusal: Refusal) -> None:
        """Each problem at its field. What is only unusual may be sent again as it is."""
        typed = [section for section in self.sections if self.cleaned_data.get(f"{section.key}-meter_end")]
        for problem in refusal.problems:
            parts = problem.field.split(".")
            name = None
            if parts[0] == "engines" and len(parts) > 2 and parts[1].isdigit() and int(parts[1]) < len(typed):
                name = f"{typed[int(parts[1])].key}-{parts[2]}"
            elif parts[0] in self.fields:
                name = parts[0]
            self.add_error(name if name in self.fields else None, spoken(problem.message))
        if refusal.code == "confirm" and isinstance(self.data, QueryDict):
            self.asks_again = True
            again = self.data.copy()
            again["confirmed"] = " ".join(problem.field for problem in refusal.problems)
            self.data = again


def _meter(section: EngineSection) -> NumberField:
    last = section.last_meter_h
    label = {"clock": capfirst(str(section.clock)), "side": section.side}
    hint = _("Without it the hours of this flight are estimated from the recording.")
    if last is not None:
        hint = f"{_('Last reading on record: %(hours)s h.') % {'hours': written.number(last, 1)}} {hint}"
    return NumberField(
        label=(_("%(clock)s at the end, %(side)s") if section.side else _("%(clock)s at the end")) % label,
        unit="h",
        help_text=hint,
        steps=Steps("0.1", "0", start="" if last is None else f"{last:.1f}"),
    )
