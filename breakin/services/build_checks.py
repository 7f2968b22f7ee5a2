"""What a build must be before it is opened: its paper, its clocks, its cylinder positions."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime

from engines.models import Build, BuildKind, Engine, EngineTypeRevision, Finish
from shop.errors import Problem
from shop.models import Person

_WHOLE_ENGINE = frozenset({BuildKind.NEW, BuildKind.FACTORY_REBUILT, BuildKind.OVERHAUL, BuildKind.TOP_OVERHAUL})
_GAP_IN = (0.002, 0.200)
_HONE_DEG = (5.0, 90.0)
_MOST_TOTAL_TIME_H = 40_000


@dataclass(frozen=True)
class PositionEntry:
    """What sits at one cylinder position. `finish` is needed where the position is disturbed."""

    number: int
    disturbed: bool = True
    finish: str = ""
    barrel_serial: str = ""
    barrel_lot: str = ""
    bore: str = ""
    ring_lot: str = ""
    ring_facing: str = ""
    ring_gap_in: float | None = None
    hone_angle_deg: float | None = None
    piston: str = ""


def chrome_on_chrome(finish: str, ring_facing: str) -> bool:
    """Whether chrome-faced rings run in a chrome bore, which is a wrong-ring error (common practice, no source)."""
    return finish == Finish.CHROME and "chrome" in ring_facing.lower()


def check_positions(
    positions: Sequence[PositionEntry], kind: str, revision: EngineTypeRevision, inspector_override: str = ""
) -> list[Problem]:
    """What is wrong with the cylinder positions of a build."""
    problems: list[Problem] = []
    seen: set[int] = set()
    for index, each in enumerate(positions):
        field = f"positions.{index}"
        name = f"Cylinder {each.number}"
        if not 1 <= each.number <= revision.cylinders:
            problems.append(
                Problem(
                    f"{field}.number",
                    f"{name}: this engine type has cylinders 1 to {revision.cylinders}. Mend the number.",
                )
            )
        if each.number in seen:
            problems.append(Problem(f"{field}.number", f"{name} was given twice. Give each once."))
        seen.add(each.number)
        if each.finish and each.finish not in Finish.values:
            problems.append(
                Problem(f"{field}.finish", f"{name}: “{each.finish}” is not a finish. Choose one from the list.")
            )
        if each.disturbed and not each.finish:
            problems.append(
                Problem(
                    f"{field}.finish",
                    f"{name} is new or re-honed, so its finish must be named. Choose it from the list.",
                )
            )
        if each.ring_gap_in is not None and not _GAP_IN[0] <= each.ring_gap_in <= _GAP_IN[1]:
            problems.append(
                Problem(
                    f"{field}.ring_gap_in",
                    f"{name}: a ring gap of {each.ring_gap_in:g} in is outside {_GAP_IN[0]} to {_GAP_IN[1]} in.",
                )
            )
        if each.hone_angle_deg is not None and not _HONE_DEG[0] <= each.hone_angle_deg <= _HONE_DEG[1]:
            problems.append(
                Problem(
                    f"{field}.hone_angle_deg",
                    f"{name}: a hone angle of {each.hone_angle_deg:g}° is outside {_HONE_DEG[0]:g} to "
                    f"{_HONE_DEG[1]:g}°. Give the angle between the crossing marks.",
                )
            )
        if chrome_on_chrome(each.finish, each.ring_facing) and not inspector_override.strip():
            problems.append(
                Problem(
                    f"{field}.ring_facing",
                    f"{name}: chrome-faced rings do not belong in a chrome bore. Fit other rings; if the supplier's "
                    "instructions allow it, an inspector enters the reason.",
                )
            )
    if not any(each.disturbed for each in positions):
        problems.append(
            Problem("positions", "No cylinder is new or re-honed, so there is nothing to break in. Mark which.")
        )
    missing = sorted(set(range(1, revision.cylinders + 1)) - seen)
    if kind in _WHOLE_ENGINE and missing:
        which = ", ".join(map(str, missing))
        problems.append(
            Problem("positions", f"Cylinder {which} is missing: this kind of work has all {revision.cylinders}.")
        )
    return problems


def check_two_persons(builder: Person | None, inspector: Person | None) -> list[Problem]:
    """Whoever built it does not inspect it: a second look by the same eyes is none."""
    if builder is None or inspector is None or builder.pk != inspector.pk:
        return []
    return [
        Problem(
            "inspector",
            f"{inspector.name} is named as builder too. Built by and inspected by are two different persons: name "
            "another one, or leave the inspector open until somebody else has looked.",
        )
    ]


def check_build(
    engine: Engine, number: str, kind: str, opened_at: datetime, times: Mapping[str, float | None], now: datetime
) -> list[Problem]:
    problems = []
    if not number.strip():
        problems.append(Problem("number", "The build number is missing. Type the shop's own number."))
    elif Build.objects.filter(number=number.strip()).exists():
        problems.append(Problem("number", f"Build number {number.strip()} is taken. Choose another one."))
    if kind not in BuildKind.values:
        problems.append(
            Problem("kind", f"“{kind}” is not a kind of work. Choose one of {', '.join(BuildKind.values)}.")
        )
    if opened_at > now:
        problems.append(Problem("opened_at", f"{opened_at:%Y-%m-%d %H:%M} UTC lies in the future. Check the date."))
    last = engine.builds.order_by("-opened_at").first()
    if last is not None and opened_at <= last.opened_at:
        problems.append(
            Problem(
                "opened_at",
                f"Build {last.number} of this engine was opened later ({last.opened_at:%Y-%m-%d}). Check the date.",
            )
        )
    for name, label in (("total_time_h", "Total time"), ("time_since_overhaul_h", "Time since overhaul")):
        value = times[name]
        if value is not None and not 0 <= value <= _MOST_TOTAL_TIME_H:
            problems.append(Problem(name, f"{label}: {value:g} h is outside 0 to {_MOST_TOTAL_TIME_H} h. Check it."))
    total, since = times["total_time_h"], times["time_since_overhaul_h"]
    if total is not None and since is not None and since > total:
        problems.append(
            Problem("time_since_overhaul_h", "Time since overhaul is more than the total time. Mend one of them.")
        )
    known = engine.builds.filter(total_time_h__isnull=False).order_by("-total_time_h").first()
    if total is not None and known is not None and known.total_time_h is not None and total < known.total_time_h:
        problems.append(
            Problem(
                "total_time_h",
                f"Total time never falls: build {known.number} had {known.total_time_h:g} h, not {total:g} h.",
            )
        )
    return problems
