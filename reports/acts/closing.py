"""The forms of a close-out: propose it, waive a criterion, give it back, seal it, give up, reopen."""

from __future__ import annotations

from typing import Any

from django import forms

from breakin.entries.sheet import Sheet
from reports.acts.base import ActForm, text_field


class ProposeForm(ActForm):
    """A technician says that a break-in can be closed out. `suggested` are reservations that the facts suggest."""

    def __init__(self, *args: Any, suggested: tuple[str, ...] = (), **kwargs: Any) -> None:
        self.suggested = suggested
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.fields["notes"] = text_field(
            "What decided it?", 2000, "In a few words: oil, filter, what was looked at. It stands in the file.", rows=3
        )
        self.fields["reservations"] = text_field(
            "Closed with reservation?",
            2000,
            "One reservation a line, for example: missed first two hours, settled anyway. Empty for none.",
            rows=3,
        )

    def read(self, sheet: Sheet) -> None:
        sheet.need("notes", "What decided it", "Say it in a few words.")
        self.reservations = sheet.text("reservations", "Reservations", 2000).splitlines()


class ReasonForm(ActForm):
    """An act that needs nothing but its reason. `asks` is the question, `hint` what helps to answer it."""

    def __init__(self, *args: Any, asks: str, hint: str, **kwargs: Any) -> None:
        self.asks, self.hint = asks, hint
        super().__init__(*args, **kwargs)

    def ask_for(self) -> None:
        self.reason(self.asks, self.hint)

    def read(self, sheet: Sheet) -> None:
        sheet.need("reason", "The reason", "Say it in a few words.")


class SignForm(ActForm):
    """The second look: `seen` is the sum of what the page shows."""

    def ask_for(self) -> None:
        self.fields["seen"] = forms.CharField(widget=forms.HiddenInput, required=False)
        self.fields["looked"] = forms.BooleanField(
            label="I have looked at the whole file. It is no return to service.", required=False
        )

    def read(self, sheet: Sheet) -> None:
        if not sheet.raw.get("looked"):
            sheet.problem("looked", "Look at the whole file first, then say so here.")
