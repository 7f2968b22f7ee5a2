"""Inspections and photos for tests, entered through the services."""

from __future__ import annotations

import io
import uuid
from datetime import datetime, timedelta
from typing import Any

from django.core.files.base import ContentFile
from PIL import Image

from breakin.entries import parse_inspection
from breakin.services.inspections import about_engine, complete_check
from breakin.services.photos import Shown, add_photo
from engines.models import Build, Inspection, Photo
from shop.models import Person

GOOD: dict[str, dict[str, Any]] = {
    "oil_check": {
        "reading": {"level": 7, "minutes_since_shutdown": 20, "level_ground": True, "wiped_twice": True, "belly_oil": 0}
    },
    "oil_filter": {
        "results": {"opened": True, "material": "fuzz", "amount": "trace"},
        "drain_fill": {"drained": 6.5, "filled": 7, "oil_kind": "mineral", "filter_changed": True},
    },
    "leak": {"results": {"spots": [], "torque_done": True}},
    "compression": {"results": {"input_psi": 80, "readings": {"1": 74, "2": 72, "3": 75, "4": 70}, "hot": True}},
    "borescope": {"results": {"grades": {"1": 0, "2": 0, "3": 1, "4": 0}, "signs": {"3": ["hatch", "oil_wet"]}}},
    "oil_analysis": {"results": {"ppm": {"fe": 120, "cu": 30}, "hours_on_oil": 10}},
    "torque": {"results": {"items": [{"item": "cylinder base nuts", "found": "340"}], "tool": "W-2"}},
    "fuel_flow": {"results": {"full_gph": 16, "gauge": "G-3"}},
    "instruments": {"results": {"rpm_error": 20}},
    "baffle": {"results": {"found_seals": "gaps", "left_seals": "tight"}},
    "timing": {"results": {"plate_deg": 25, "found_left": 27, "set_left": 25, "set_right": 25}},
    "static_rpm": {"results": {"low_rpm": 2250, "high_rpm": 2400, "left_rpm": 2310}},
    "induction": {"results": {"ambient": 29.2, "stopped_map": 29.2, "found_map": 26.5, "left_map": 28.7}},
}


def inspected(build: Build, kind: str, *, by: Person, at: datetime, result: str = "normal", **more: Any) -> Inspection:
    """One inspection of the engine of a build, with the plainest findings of its kind or those given."""
    raw = {
        "client_id": str(uuid.uuid4()),
        "kind": kind,
        "result": result,
        "happened_at": at.isoformat(),
        **GOOD.get(kind, {}),
        **more,
    }
    now = at + timedelta(minutes=20)
    entry = parse_inspection(raw, units="us", zone="UTC", now=now, about=about_engine(build.engine))
    return complete_check(by=by, engine=build.engine, entry=entry, now=now)


def picture(
    width: int = 640, height: int = 480, *, kind: str = "JPEG", colour: tuple[int, ...] = (90, 120, 60), **options: Any
) -> ContentFile[bytes]:
    """A picture file as a phone would send it."""
    held = io.BytesIO()
    Image.new("RGB" if len(colour) == 3 else "RGBA", (width, height), colour).save(held, kind, **options)
    return ContentFile(held.getvalue(), name=f"IMG_0001.{kind.lower()}")


def photographed(fact: Inspection, *, by: Person, at: datetime, for_customer: bool = True, **more: Any) -> Photo:
    """A photo of an inspection."""
    of = Shown("inspection", fact.root, fact.engine, fact.happened_at)
    return add_photo(by=by, of=of, upload=picture(**more), now=at, caption="pleats", for_customer=for_customer)[0]
