"""Invented engine types of the demo. Teaching numbers, not for flight. Charts come from deploy/make_charts.py."""

from __future__ import annotations

import json
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path
from typing import Any

from engines.models import Cooling, EngineType, EngineTypeRevision, FuelSystem, Induction, PropControl

CHARTS = Path(__file__).parent / "charts"
SOURCE = "Teaching numbers of the demo, not for flight"


@dataclass(frozen=True)
class TypeRow:
    """One invented type. hp, rpm, cubic inches, US quarts, US gal/h, degF, qt/h."""

    name: str
    maker: str
    cylinders: int
    displacement: float
    compression: float
    hp: float
    rpm: float
    sump: float
    ceiling: float | None
    ff: tuple[float, float] | None = None
    cht: tuple[float, float] | None = None
    settle: float | None = None
    more: dict[str, Any] | None = None


_CARB = {"fuel_system": FuelSystem.CARBURETTOR}
_INJ = {"fuel_system": FuelSystem.INJECTED}
_COMPENSATED = {**_INJ, "fuel_flow_compensates": True}
_OIL = {
    "oil_temp_max_degf": 245.0,
    "oil_press_min_psi": 55.0,
    "oil_press_idle_min_psi": 25.0,
    "oil_press_max_psi": 115.0,
}

TYPES = (
    TypeRow("TAV-4C", "Tavrin", 4, 316, 8.5, 160, 2700, 8, None, None, (420, 500), 6,
            {**_CARB, **_OIL, "prop_control": PropControl.FIXED}),
    TypeRow("TAV-4E", "Tavrin", 4, 354, 8.5, 180, 2700, 8, None, (15.2, 16.8), (420, 500), 6,
            {**_INJ, **_OIL, "fuel_flow_compensates": False}),
    TypeRow("VRN-6B", "Vorrane", 6, 464, 8.0, 235, 2575, 10, None, (20.0, 23.0), (420, 460), 8, {**_CARB, **_OIL}),
    TypeRow("VRN-6D", "Vorrane", 6, 526, 8.5, 285, 2700, 12, None, (24.0, 26.5), (420, 460), 10,
            {**_COMPENSATED, **_OIL}),
    TypeRow("PL-6G", "Pellard", 6, 556, 8.5, 300, 2700, 12, None, (25.5, 28.0), (420, 460), 10,
            {**_COMPENSATED, **_OIL}),
    TypeRow("VRN-6T", "Vorrane", 6, 538, 7.5, 310, 2700, 12, None, (32.5, 35.5), (420, 460), 10,
            {**_INJ, **_OIL, "induction": Induction.TURBOCHARGED, "max_map_inhg": 37.0, "tit_limit_degf": 1650.0,
             "altitude_cap_ft": 8000.0, "fuel_flow_compensates": False}),
    TypeRow("TAV-L4", "Tavrin", 4, 88, 9.4, 92, 5500, 3.2, None, None, None, None,
            {**_CARB, "cooling": Cooling.MIXED, "dry_sump": True, "log_only": True}),
    TypeRow("PL-R7", "Pellard", 7, 870, 6.1, 330, 2150, 32, None, None, None, None,
            {**_CARB, "layout": "radial", "dry_sump": True, "log_only": True}),
)  # fmt: skip


def load_types(now: datetime) -> dict[str, EngineTypeRevision]:
    """Make the types that are missing; returns the newest revision of each by name."""
    return {row.name: _load(row, now) for row in TYPES}


def chart_of(row: TypeRow) -> dict[str, Any] | None:
    """The stored form of its power chart; None for a type that is only logged."""
    file = CHARTS / f"{row.name}.json"
    chart: dict[str, Any] | None = json.loads(file.read_text()) if file.exists() else None
    return chart


def _opposed_map(row: TypeRow) -> list[list[int]] | None:
    """Two to a row from the front back, odd numbers on the right; None where no pairs stand opposite each other."""
    if (row.more or {}).get("layout", "opposed") != "opposed" or row.cylinders % 2:
        return None
    return [[right + 1, right] for right in range(1, row.cylinders, 2)]


def _load(row: TypeRow, now: datetime) -> EngineTypeRevision:
    engine_type, _ = EngineType.objects.get_or_create(designation=row.name, defaults={"maker": row.maker})
    revision = engine_type.revisions.order_by("-number").first()
    if revision is not None:
        return revision
    return EngineTypeRevision.objects.create(
        engine_type=engine_type,
        number=1,
        revised_at=now,
        source=SOURCE,
        cylinders=row.cylinders,
        displacement_cuin=row.displacement,
        compression_ratio=row.compression,
        rated_hp=row.hp,
        rated_rpm=row.rpm,
        sump_full_qt=row.sump,
        settle_qt=row.settle,
        oil_ceiling_qt_h=row.ceiling,
        takeoff_ff_low_gph=row.ff[0] if row.ff else None,
        takeoff_ff_high_gph=row.ff[1] if row.ff else None,
        cht_watch_degf=row.cht[0] if row.cht else None,
        cht_limit_degf=row.cht[1] if row.cht else None,
        chart=chart_of(row),
        numbering="no. 1 is the front right cylinder, seen from the pilot's seat",
        cylinder_map=_opposed_map(row),
        **(row.more or {}),
    )
