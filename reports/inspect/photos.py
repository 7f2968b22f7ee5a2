"""Photos as a page shows them: only to who may read the words of their fact."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from uuid import UUID

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.urls import reverse
from django.utils.translation import gettext_lazy as _

from engines.models import Engine, Photo
from reports.forms.recording import FilesField
from reports.reader import Reader
from shop import access, written
from shop.forms import BookForm


@dataclass(frozen=True)
class PhotoLine:
    """One photo. `audience` is said to the shop only; `withdraw_url` is empty where the reader may not."""

    photo: Photo
    url: str
    small_url: str
    say: str
    audience: str
    withdraw_url: str


def photos_of(reader: Reader, roots: Iterable[UUID]) -> tuple[PhotoLine, ...]:
    """The photos of these facts that this reader may see, in the order of the facts."""
    wanted = list(roots)
    if not wanted:
        return ()
    rows = access.visible_to(reader.user, Photo.objects.filter(root__in=wanted, withdrawal=None))
    return tuple(_line(reader, row) for row in rows.order_by("of_at", "id") if access.words_are_for(reader.user, row))


def by_root(lines: Iterable[PhotoLine]) -> dict[UUID, tuple[PhotoLine, ...]]:
    """The photos of each fact."""
    found: dict[UUID, tuple[PhotoLine, ...]] = {}
    for line in lines:
        found[line.photo.root] = (*found.get(line.photo.root, ()), line)
    return found


def photos_by_root(reader: Reader, engine: Engine) -> dict[UUID, tuple[PhotoLine, ...]]:
    """All photos of an engine that this reader may see, by the fact they show."""
    rows = access.visible_to(reader.user, Photo.objects.filter(engine=engine, withdrawal=None))
    seen = (row for row in rows.order_by("of_at", "id") if access.words_are_for(reader.user, row))
    return by_root(_line(reader, row) for row in seen)


def _line(reader: Reader, row: Photo) -> PhotoLine:
    may = reader.staff or (reader.person is not None and row.uploaded_by_id == reader.person.pk)
    return PhotoLine(
        photo=row,
        url=reverse("photo", args=[row.pk]),
        small_url=reverse("photo_small", args=[row.pk]),
        say=row.caption or _("Photo of %(day)s") % {"day": written.day(row.of_at)},
        audience=("customer too" if row.for_customer else "shop only") if reader.staff else "",
        withdraw_url=reverse("photo_withdraw", args=[row.pk]) if may else "",
    )


class PhotoForm(BookForm):
    """Photos with a caption. Only the shop is asked who may see them: what a customer sends is the customer's own.

    A phone opens its camera for the one field and its pictures for the other; both arrive as `photos`.
    """

    camera = FilesField(label=_("Take a photo now"), required=False)
    photos = FilesField(
        label=_("Or choose photos"),
        required=False,
        help_text=_("JPEG, PNG or WebP, up to 20 MB each. Place and camera are removed from the picture."),
    )
    caption = forms.CharField(label=_("What they show"), max_length=120, required=False)
    for_customer = forms.BooleanField(label=_("The customer may see them too"), required=False)

    def __init__(self, *args: object, staff: bool, **kwargs: object) -> None:
        super().__init__(*args, **kwargs)  # type: ignore[arg-type]
        self.fields["camera"].widget.attrs.update({"accept": "image/*", "capture": "environment"})
        # Asked for these, a phone hands over what it keeps in another format as one of them.
        self.fields["photos"].widget.attrs["accept"] = "image/jpeg,image/png,image/webp"
        if not staff:
            del self.fields["for_customer"]

    def clean_photos(self) -> list[UploadedFile]:
        return [each for each in (*self.cleaned_data["camera"], *self.cleaned_data["photos"]) if each]
