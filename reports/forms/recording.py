"""The forms of recordings: send files, and say which logged flight a recorded one is."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any
from uuid import UUID

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils.translation import gettext_lazy as _

from shop.forms import BookForm, Chips

MOST_FILES = 20
BY_TIME = ""
NONE_OF_THEM = "none"


class FilesInput(forms.ClearableFileInput):
    """A choice of several files at once."""

    allow_multiple_selected = True


class FilesField(forms.FileField):
    """One file or several; cleans to the list of them."""

    def __init__(self, **options: Any) -> None:
        super().__init__(widget=FilesInput(), **options)

    def clean(self, data: Any, initial: Any = None) -> list[UploadedFile]:
        files = data if isinstance(data, list | tuple) else [data]
        return [super(FilesField, self).clean(each, initial) for each in files or [None]]


class RecordingForm(BookForm):
    """Files, the flight that they are of where the sender says so, and a word.

    flights : pairs of root and words of the flights to choose from.
    """

    upload = FilesField(
        label=_("Files from the instrument"),
        help_text=_("As they came out of it, not opened and saved by another program. Several at once are fine."),
        error_messages={
            "required": _("Choose the file first."),
            "empty": _("This file is empty. Choose the one that the instrument wrote."),
        },
    )
    flight = forms.ChoiceField(
        label=_("Which flight is it?"),
        help_text=_("Left as it is, the time in the file decides."),
        required=False,
    )
    note = forms.CharField(label=_("A word about it"), required=False, max_length=500)

    def __init__(self, *args: Any, flights: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["flight"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - declared so above
        field.choices = [(BY_TIME, _("by the time in the file")), *flights]

    def clean_upload(self) -> list[UploadedFile]:
        files: list[UploadedFile] = self.cleaned_data["upload"]
        if len(files) > MOST_FILES:
            raise forms.ValidationError(
                _("These are %(count)d files. Send at most %(most)d at once.")
                % {"count": len(files), "most": MOST_FILES}
            )
        return files

    def clean_flight(self) -> UUID | None:
        chosen = self.cleaned_data["flight"]
        return UUID(chosen) if chosen else None

    def clean(self) -> dict[str, Any]:
        held = self.cleaned_data
        if held.get("flight") and len(held.get("upload") or ()) > 1:
            self.add_error(
                "flight", _("Several files are not one flight. Leave this as it is, or send one file alone.")
            )
        return held


class MatchForm(BookForm):
    """Which of the logged flights it is, or none. A choice carries the flight and how far the clock is to be moved."""

    flight = forms.ChoiceField(
        label=_("Which flight is it?"),
        widget=Chips(attrs={"class": "chips--column"}),
        error_messages={
            "required": _("Choose the flight, or that it is none of them."),
            "invalid_choice": _("That flight is not among the choices any more. Choose again."),
        },
    )
    reason = forms.CharField(label=_("Why, in a few words"), required=False, max_length=500)

    def __init__(self, *args: Any, choices: Sequence[tuple[str, str]], **options: Any) -> None:
        super().__init__(*args, **options)
        field = self.fields["flight"]
        assert isinstance(field, forms.ChoiceField)  # noqa: S101 - declared so above
        field.choices = [*choices, (NONE_OF_THEM, _("none of the logged flights"))]

    def chosen(self) -> tuple[UUID | None, float | None]:
        """The flight's root and the seconds by which the clock moves beyond what it was moved already."""
        value = str(self.cleaned_data["flight"])
        if value == NONE_OF_THEM:
            return None, None
        root, _, shift = value.partition("_")
        return UUID(root), float(shift or 0)
