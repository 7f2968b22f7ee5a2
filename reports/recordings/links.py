"""Where a logged flight can be seen as it was recorded."""

from __future__ import annotations

from collections.abc import Iterable
from uuid import UUID

from django.urls import reverse

from breakin.models import RecordedFlight
from reports.reader import Reader
from shop import access


def recorded_at(reader: Reader, roots: Iterable[UUID]) -> dict[UUID, str]:
    """Flight root -> address of its recorded flight, of those that the reader may see; of two recorders the better."""
    rows = RecordedFlight.objects.filter(flight_root__in=list(roots))
    seen = (
        access.visible_to(reader.user, rows).order_by("quality", "pk").values_list("flight_root", "recording", "number")
    )
    return {root: f"{reverse('recording', args=[recording])}#f{number}" for root, recording, number in seen if root}
