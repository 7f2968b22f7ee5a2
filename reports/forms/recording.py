"""The form that takes an instrument's file."""

from __future__ import annotations

from django import forms

from shop.forms import BookForm


class RecordingForm(BookForm):
    """One file and a word about it."""

    upload = forms.FileField(
        label="File from the instrument",
        help_text="As it came out of the instrument, not opened and saved by another program.",
        error_messages={
            "required": "Choose the file first.",
            "empty": "This file is empty. Choose the one that the instrument wrote.",
        },
    )
    note = forms.CharField(label="A word about it", required=False, max_length=500)
