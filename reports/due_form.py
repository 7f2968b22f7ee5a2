"""Due items as lists show them, and the inspection that closes each."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from breakin.calc.said import US
from breakin.models import DueItem
from breakin.saying import text_for, title_for
from breakin.services.inspections import fitting_kinds
from engines.models import InspectionKind


@dataclass(frozen=True)
class AskedItem:
    """A due item as a page lists it; `closable` where an inspection closes it, then `url` is its form.

    elsewhere : the page where work on an accessory is entered, which alone closes what is asked of it.
    """

    item: DueItem
    closable: bool
    title: str
    text: str
    elsewhere: str = ""

    @classmethod
    def of(cls, item: DueItem, units: str = US) -> AskedItem:
        """In the words of its reader; the lists of the shop say it as it stands in the book."""
        closable = inspection_for(item) is not None
        return cls(item, closable, title_for(item, units), text_for(item, units), _elsewhere(item))

    @property
    def url(self) -> str:
        return reverse("due_complete", args=[self.item.pk])


def _elsewhere(item: DueItem) -> str:
    accessory = item.occurrence.partition(":")[0] if item.kind == "accessory" else ""
    return reverse("accessory_done", args=[int(accessory)]) if accessory.isdigit() else ""


def inspection_for(item: DueItem, asked: str = "") -> InspectionKind | None:
    """The inspection that closes this item: the one asked for where it fits, else the usual one; None: none does."""
    fitting = fitting_kinds(item)
    return next((kind for kind in fitting if kind == asked), fitting[0] if fitting else None)


def other_ways(item: DueItem, kind: InspectionKind | None) -> tuple[tuple[str, str], ...]:
    """(address, words) of the other kinds of inspection that close it as well."""
    url = reverse("due_complete", args=[item.pk])
    return tuple((f"{url}?kind={each.value}", each.label) for each in fitting_kinds(item) if each != kind)
