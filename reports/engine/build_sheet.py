"""The build sheet: what was put together, by whom, on which clocks; where each cylinder sits; the run in the cell."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from django.utils import timezone

from breakin.models import Flight, OilKind, RunInPlan
from breakin.picture.storage import storage_of
from breakin.plan_templates import HOURS_BY_FINISH, slowest_finish
from breakin.services.build_checks import chrome_on_chrome
from engines.models import Build, BuildEventKind, CellRun, CylinderPosition, EngineTypeRevision, Finish
from reports.engine.position_picture import PositionPicture, position_picture
from reports.engine.tables import Table
from reports.quantities import NOT_KNOWN, minutes_text, quantity
from reports.reader import Reader

H, INCH = "\u202fh", "\u202fin"
MISSING = "not on record"
LONG_STORAGE_DAYS = 180  # from the build to the first flight; own choice, fresh bores rust first
Fact = tuple[str, str, str]


@dataclass(frozen=True)
class PairingLine:
    """One sentence of the check. `word` is what it comes to; `kind` the shape that repeats the word."""

    word: str
    kind: str
    say: str


@dataclass(frozen=True)
class CellSheet:
    """One run in the cell; `steps` is None where none were noted."""

    title: str
    facts: tuple[Fact, ...]
    steps: Table | None
    note: str


@dataclass(frozen=True)
class BuildSheet:
    build: Build
    facts: tuple[Fact, ...]
    positions: Table | None
    picture: PositionPicture
    numbering: str
    pairing: tuple[PairingLine, ...]
    cell: tuple[CellSheet, ...]
    note: str


def build_sheet(reader: Reader, build: Build) -> BuildSheet:
    """The sheet of one build, in the reader's units. A fixed number of queries.

    `build` comes with its engine, type revision and people.
    """
    positions = list(build.positions.all())
    opened = build.events.filter(kind=BuildEventKind.OPENED).order_by("id").first()
    override = str(opened.detail.get("inspector_override", "")) if opened else ""
    plan = RunInPlan.objects.filter(build=build).order_by("-revision").first()
    return BuildSheet(
        build=build,
        facts=(*_facts(build), _stood(build, timezone.now().date())),
        positions=_positions(positions),
        picture=position_picture(build.type_revision, positions),
        numbering=build.type_revision.numbering,
        pairing=(*_rings(positions, override, build), *_finishes(positions, plan)),
        cell=tuple(_cell(run, build.type_revision, reader.units) for run in build.cell_runs.order_by("run_on", "id")),
        note=build.note,
    )


def _facts(build: Build) -> tuple[Fact, ...]:
    ended = f"{build.get_state_display()} {build.closed_at:%-d %b %Y}" if build.closed_at else ""
    return (
        ("Kind of work", build.get_kind_display(), ""),
        ("Engine", build.engine.serial, str(build.type_revision)),
        ("Opened", f"{build.opened_at:%-d %b %Y}", ended),
        ("Total time at build", _hours(build.total_time_h), ""),
        ("Since overhaul at build", _hours(build.time_since_overhaul_h), ""),
        ("Built by", build.builder.name if build.builder else MISSING, ""),
        ("Inspected by", build.inspector.name if build.inspector else MISSING, "somebody else than the builder"),
        ("Assembly lube", build.assembly_lube or MISSING, ""),
    )


def _stood(build: Build, today: date) -> Fact:
    """How long it stands, or stood, between build and first run."""
    newer = build.engine.builds.filter(opened_at__gt=build.opened_at).order_by("opened_at").first()
    runs = Flight.objects.current().filter(engines__engine=build.engine, happened_at__gte=build.opened_at)
    runs = runs.filter(happened_at__lt=newer.opened_at) if newer else runs
    first = runs.order_by("happened_at").values_list("happened_at", flat=True).first()
    stood = storage_of(build.preservations.all(), build.opened_at.date(), first.date() if first else None, today)
    long = f"more than {LONG_STORAGE_DAYS} days: look into the bores before it runs"
    return "Stood before its first run", str(stood), long if stood.days > LONG_STORAGE_DAYS else ""


def _hours(value: float | None) -> str:
    return MISSING if value is None else f"{value:.1f}{H}"


def _positions(positions: Sequence[CylinderPosition]) -> Table | None:
    rows = tuple(
        (
            str(each.number),
            "yes: new or re-honed" if each.disturbed else "no",
            each.get_finish_display() if each.finish else MISSING,
            " ".join(part for part in (each.barrel_serial, f"lot {each.barrel_lot}" if each.barrel_lot else "") if part)
            or MISSING,
            each.bore or MISSING,
            MISSING if each.hone_angle_deg is None else f"{each.hone_angle_deg:g}°",
            each.piston or MISSING,
            each.ring_lot or MISSING,
            each.ring_facing or MISSING,
            MISSING if each.ring_gap_in is None else f"{each.ring_gap_in:.3f}{INCH}",
        )
        for each in positions
    )
    heads = (
        "No.",
        "Disturbed",
        "Finish",
        "Barrel",
        "Bore",
        "Hone angle",
        "Piston",
        "Ring set or lot",
        "Ring facing",
        "Ring gap",
    )
    caption = "Disturbed: the ring and bore pair is new or re-honed. These are what the break-in is about."
    return Table(caption, heads, rows) if rows else None


def _rings(positions: Sequence[CylinderPosition], override: str, build: Build) -> list[PairingLine]:
    """Chrome-faced rings in chrome bores, and what could not be looked at."""
    lines = []
    wrong = [each for each in positions if chrome_on_chrome(each.finish, each.ring_facing)]
    if wrong:
        said = f"Chrome-faced rings in a chrome bore: {_numbers(wrong)}."
        who = f" ({build.inspector.name})" if build.inspector else ""
        if override:
            lines.append(PairingLine("Let stay", "watch", f"{said} The inspector{who} lets them stay: “{override}”."))
        else:
            tell = "They do not belong together, and no reason of an inspector is on record. Other rings have to go in."
            lines.append(PairingLine("Refused", "stop", f"{said} {tell}"))
    unsaid = [each for each in positions if each.disturbed and not each.ring_facing]
    if unsaid:
        chrome = [each for each in unsaid if each.finish == Finish.CHROME]
        more = f" In a chrome bore it matters: {_numbers(chrome)}." if chrome else ""
        lines.append(
            PairingLine(
                "Not checked", "watch", f"The facing of the rings is not on record for {_numbers(unsaid)}.{more}"
            )
        )
    if not wrong and len(unsaid) < sum(each.disturbed for each in positions):
        lines.append(PairingLine("Fits", "met", "No chrome-faced ring is on record in a chrome bore."))
    return lines


def _finishes(positions: Sequence[CylinderPosition], plan: RunInPlan | None) -> list[PairingLine]:
    """Which finish sets the hours, and who decides about the oil."""
    by_finish: dict[str, list[CylinderPosition]] = defaultdict(list)
    for each in positions:
        if each.disturbed and each.finish:
            by_finish[each.finish].append(each)
    slowest = slowest_finish(by_finish)
    if not slowest:
        return []
    low, high, _least = HOURS_BY_FINISH[slowest]
    usual = f"usually {low:g} to {high:g}{H}"
    oil = _oil(plan)
    if len(by_finish) == 1:
        return [PairingLine("One finish", "note", f"{Finish(slowest).label.capitalize()}: {usual}. {oil}")]
    parts = "; ".join(f"{Finish(finish).label} in {_numbers(rows)}" for finish, rows in sorted(by_finish.items()))
    return [
        PairingLine(
            "Mixed finishes",
            "watch",
            f"{parts}. The slowest governs the hours: {Finish(slowest).label}, {usual}.",
        ),
        PairingLine(
            "Oil: a person decides",
            "call",
            "The break-in oil follows the instructions of each cylinder's supplier. Read them all; where they name "
            f"different oils the manager asks the suppliers, and the plan is issued with the answer. {oil}",
        ),
    ]


def _oil(plan: RunInPlan | None) -> str:
    if plan is None:
        return "No plan has been issued yet, so no oil is named."
    return f"The plan names {OilKind(plan.oil_kind).label} oil."


def _numbers(rows: Sequence[CylinderPosition]) -> str:
    return "no. " + ", ".join(str(each.number) for each in rows)


def _cell(run: CellRun, revision: EngineTypeRevision, units: str) -> CellSheet:
    steps = tuple((f"{step[0]:.0f}\u202frpm", minutes_text(step[1])) for step in run.steps)
    kind = str(OilKind(run.oil_kind).label) if run.oil_kind in OilKind.values else run.oil_kind
    return CellSheet(
        title=f"{run.run_on:%-d %b %Y}, {minutes_text(run.minutes)}",
        facts=(
            ("Oil used", quantity(run.oil_used_qt, "volume", units), kind or "kind of oil not on record"),
            (
                "Fuel flow at full throttle",
                quantity(run.full_throttle_ff_gph, "fuel_flow", units),
                _band(revision, units),
            ),
            ("Hottest head", quantity(run.cht_max_degf, "temperature", units), ""),
            ("Leaks", run.leaks or NOT_KNOWN, "" if run.leaks else "nothing was said"),
        ),
        steps=Table("Minutes by step", ("Speed", "Time"), steps) if steps else None,
        note=run.note,
    )


def _band(revision: EngineTypeRevision, units: str) -> str:
    low, high = revision.takeoff_ff_low_gph, revision.takeoff_ff_high_gph
    if low is None or high is None:
        return ""
    return f"{quantity(low, 'fuel_flow', units)} to {quantity(high, 'fuel_flow', units)} at takeoff by the engine type"
