"""Which oil picture a reader may have as a vector, and the mark by which a browser knows that it has it already."""

from __future__ import annotations

import hashlib
import json
from dataclasses import dataclass

from django.urls import reverse
from django.utils.translation import get_language
from django.utils.translation import gettext as _

from breakin.models import Assessment
from engines.models import Build, Engine
from reports.oil.still import PHONE, SHEET, oil_svg
from reports.reader import Reader
from shop import access

# Raise it when the drawing changes, so that no browser keeps the old one.
DRAWING = 2


@dataclass(frozen=True)
class StillPicture:
    """`etag` follows from the assessment, the drawing and the reader's units and language. `narrow`: for a phone."""

    assessment: Assessment
    units: str
    etag: str
    narrow: bool = False

    def svg(self) -> str | None:
        """The picture; None when no level was ever read."""
        row = self.assessment
        title = _("Oil of engine %(serial)s, build %(number)s, over run hours") % {
            "serial": row.serial,
            "number": row.build.number,
        }
        return oil_svg(row.detail.get("oil") or {}, row.hours, self.units, title, PHONE if self.narrow else SHEET)


def still_picture(reader: Reader, engine: Engine, build_id: int | None, narrow: bool = False) -> StillPicture | None:
    """The picture of this build, of the newest one when none is named; None where this reader sees no judgement."""
    builds = access.visible_to(reader.user, Build.objects.filter(engine=engine)).order_by("-opened_at", "-id")
    build = (builds.filter(pk=build_id) if build_id is not None else builds).first()
    if build is None:
        return None
    row = access.visible_to(reader.user, Assessment.objects.filter(build=build)).select_related("build").first()
    if row is None:
        return None
    said = json.dumps(
        [row.build_id, row.hours, reader.units, get_language(), DRAWING, narrow, row.detail.get("oil")], sort_keys=True
    )
    return StillPicture(row, reader.units, f'"{hashlib.sha256(said.encode()).hexdigest()[:32]}"', narrow)


def still_address(engine: Engine, build: Build, newest: bool, narrow: bool = False) -> str:
    """Where the picture of this build is fetched, drawn for a sheet or, `narrow`, for a phone."""
    query = {**({} if newest else {"build": build.pk}), **({"narrow": 1} if narrow else {})}
    return reverse("oil_picture", args=[engine.pk], query=query)
