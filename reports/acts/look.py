"""A form that is kept only after its sender has looked at what it says: a mark that stands on that page alone."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils.crypto import constant_time_compare, salted_hmac

from reports.acts.base import ActForm

LOOKED = "looked"


class LookForm(ActForm):
    """`mark` is made by the server from what the form asks for; `needs_a_look` is true until it comes back."""

    salt = ""

    def asks_for(self) -> Any:
        """All that would be kept, as something whose `repr` moves with any of it."""
        raise NotImplementedError

    def ask_for(self) -> None:
        self.on_page[LOOKED] = ""
        self.fields[LOOKED] = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)

    @property
    def mark(self) -> str:
        return salted_hmac(self.salt, repr(self.asks_for()), algorithm="sha256").hexdigest()

    @property
    def needs_a_look(self) -> bool:
        return not constant_time_compare(self.cleaned_data.get(LOOKED) or "", self.mark)

    def show_mark(self) -> None:
        """Put the mark on the page: from now on the sender has seen this."""
        self.on_page[LOOKED] = self.mark
