"""The head of an engine's page: which engine this is, where it sits, how its break-in stands, what comes next."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from breakin.models import Assessment, Phase, RunInPlan
from engines.models import Build, Engine, Finish, Installation
from reports.engine.timeline import seat
from reports.quantities import NOT_KNOWN, hours_of, level, minutes_text, oil_rate, quantity
from reports.reader import Reader

H = "\u202fh"
WALK = (
    Phase.AWAITING,
    Phase.HOUR_1,
    Phase.HOUR_2,
    Phase.ALTERNATING,
    Phase.SETTLING,
    Phase.PROVISIONAL,
    Phase.REVIEW,
    Phase.CLOSED,
)
Fact = tuple[str, str, str]


@dataclass(frozen=True)
class Header:
    """title and lead; `facts`, `service` and `plan` as (label, value, small print); the sentences of oil and power."""

    title: str
    lead: str
    since: datetime | None
    phase: str
    steps: tuple[dict[str, str], ...]
    facts: tuple[Fact, ...]
    service: tuple[Fact, ...]
    plan: tuple[Fact, ...]
    type_facts: tuple[Fact, ...]
    oil_sentence: str
    oil_caption: str
    power_caption: str
    next_sentence: str


def header(
    reader: Reader,
    engine: Engine,
    build: Build | None,
    assessment: Assessment | None,
    plan: RunInPlan | None,
    installations: list[Installation],
    seat_now: Installation | None,
) -> Header:
    detail: Mapping[str, Any] = assessment.detail if assessment else {}
    oil = detail.get("oil") or {}
    following = detail.get("next") or {}
    return Header(
        title=seat(seat_now) if seat_now else f"{engine.engine_type.designation}, s/n {engine.serial}",
        lead=_lead(engine, build, seat_now),
        since=_since(installations, seat_now),
        phase=assessment.get_phase_display() if assessment else "",
        steps=_steps(assessment),
        facts=_facts(assessment, detail, reader.units) if assessment else (),
        service=_service(oil, plan, seat_now, reader.units) if assessment else (),
        plan=plan_facts(plan, reader.units) if plan else (),
        type_facts=_type(build, seat_now, reader.units) if build else (),
        oil_sentence=str(oil.get("sentence") or ""),
        oil_caption=_oil_caption(oil, reader.units),
        power_caption=_power_caption(detail.get("credit") or {}),
        next_sentence=str(following.get("sentence") or ""),
    )


def _lead(engine: Engine, build: Build | None, seat_now: Installation | None) -> str:
    parts = [f"{engine.engine_type.designation}, s/n {engine.serial}"] if seat_now else []
    if build is None:
        parts.append("not in break-in")
    else:
        finishes = dict.fromkeys(
            Finish(row.finish).label for row in build.positions.all() if row.disturbed and row.finish in Finish.values
        )
        parts += [f"build {build.number}", build.get_kind_display(), " and ".join(finishes)]
    return ", ".join(part for part in parts if part)


def _since(installations: list[Installation], seat_now: Installation | None) -> datetime | None:
    """Since when the engine sits in this position: the start of the chain of rows that continue one another."""
    by_id = {row.pk: row for row in installations}
    row = seat_now
    while row is not None and row.continues_id in by_id:
        row = by_id[row.continues_id]
    return row.since if row else None


def _steps(assessment: Assessment | None) -> tuple[dict[str, str], ...]:
    if assessment is None or assessment.phase not in WALK:
        return ()
    here = WALK.index(Phase(assessment.phase))
    return tuple(
        {
            "name": str(phase.label),
            "state": "done" if place < here else "now" if place == here else "to come",
            "note": "",
        }
        for place, phase in enumerate(WALK)
    )


def _facts(row: Assessment, detail: Mapping[str, Any], units: str) -> tuple[Fact, ...]:
    clock, credit = detail.get("clock") or {}, detail.get("credit") or {}
    estimated = clock.get("estimated_share") or 0
    first = credit.get("first_two") or {}
    touch = [f"at {row.next_touch_h:.1f}{H}"] if row.next_touch_h is not None else []
    touch += [f"{row.next_touch_on.day} {row.next_touch_on:%b}"] if row.next_touch_on else []
    facts = [
        (
            "Run, of expected",
            hours_of(row.hours, row.expected_low_h, row.expected_high_h),
            f"{estimated:.0%} of it estimated" if estimated else "",
        ),
        (
            "First two hours",
            row.first_two_word or str(first.get("verdict") or NOT_KNOWN),
            "",
        ),
        (
            "Oil",
            oil_rate(row.oil_rate_qt_h, row.oil_rate_u_qt_h, units)
            if row.oil_rate_qt_h is not None
            else "no loss known yet",
            row.oil_word,
        ),
        ("Last level", level(row.oil_level_qt, None, units), _at((detail.get("oil") or {}).get("level_at_h"))),
        ("Next at the shop", row.next_touch or "nothing planned", ", ".join(touch)),
    ]
    if clock.get("ground_min") is not None:
        cell = clock.get("cell_min")
        facts.append(
            (
                "Ground running",
                minutes_text(clock["ground_min"]),
                f"test cell {minutes_text(cell)}, counted apart" if cell else "",
            )
        )
    if row.owner_name:
        facts.append(("Looked after by", row.owner_name, ""))
    return tuple(facts)


def _at(hours: float | None) -> str:
    return "" if hours is None else f"at {hours:.1f}{H}"


def _service(
    oil: Mapping[str, Any], plan: RunInPlan | None, seat_now: Installation | None, units: str
) -> tuple[Fact, ...]:
    """What oil goes in and how much: the technician's question on the ramp."""
    lines = oil.get("lines") or {}
    facts: list[Fact] = []
    if plan is not None:
        facts.append(("Oil kind", plan.get_oil_kind_display(), f"first change at {plan.first_oil_h:g}{H}"))
    for name, label, small in (
        ("hold", "Fill to: hold line", "and what filter and cooler take; full only if the maker says full"),
        ("add", "Add one below", "between the two lines leave it"),
        ("no_go", "No-go", seat_now.min_oil_source if seat_now else "POH/AFM"),
    ):
        if lines.get(name) is not None:
            facts.append((label, level(lines[name], None, units), small))
    if lines.get("no_go") is None and seat_now is not None:
        facts.append(("No-go", level(seat_now.min_oil_qt, None, units), seat_now.min_oil_source))
    return tuple(facts)


def plan_facts(plan: RunInPlan, units: str) -> tuple[Fact, ...]:
    """The numbers of a plan."""
    bands = "; ".join(f"{name}\u202f%: {low:g} to {high:g}\u202f%" for name, (low, high) in sorted(plan.credit.items()))
    follow = ", ".join(f"+{hours:g}{H}" for hours in plan.follow_up_h)
    days = ", ".join(f"{days:g}" for days in plan.follow_up_days)
    by_days = f", or {days} days, whichever come first" if days else ""
    return (
        ("Plan", plan.variant, f"revision {plan.revision}"),
        ("Follows", plan.source, plan.source_revision),
        (
            "Expected",
            f"{plan.expected_low_h:g} to {plan.expected_high_h:g}{H}",
            f"review not before {plan.minimum_h:g}{H}",
        ),
        ("Bands of power", bands, f"light below {plan.low:g}\u202f%"),
        (
            "Oil loss accepted",
            oil_rate_plain(plan.accept_qt_h, units),
            f"watch {oil_rate_plain(plan.watch_qt_h, units)}, alarm {oil_rate_plain(plan.alarm_qt_h, units)}",
        ),
        ("Ground running", f"note above {plan.ground_note_min:g} min", f"call above {plan.ground_call_min:g} min"),
        (
            "First oil and filter",
            f"{plan.first_oil_h:g}{H}",
            f"window {plan.first_oil_from_h:g} to {plan.first_oil_until_h:g}{H}",
        ),
        ("Follow-ups", follow or "none", f"after close-out{by_days}" if follow else ""),
    )


def oil_rate_plain(value: float, units: str) -> str:
    """A line of loss, which has no uncertainty: "0.15 qt/h"."""
    return f"{level(value, None, units)}/h"


def _type(build: Build, seat_now: Installation | None, units: str) -> tuple[Fact, ...]:
    kind = build.type_revision
    facts: list[Fact] = [
        ("Type", str(kind.engine_type), f"revision {kind.number}"),
        ("Cylinders", f"{kind.cylinders}, {kind.layout}", kind.numbering),
        (
            "Rated",
            f"{quantity(kind.rated_hp, 'power', units)} at {kind.rated_rpm:g} rpm",
            f"{kind.get_induction_display()}, {kind.get_fuel_system_display()}",
        ),
        ("Full mark", level(kind.sump_full_qt, None, units), "dry sump" if kind.dry_sump else ""),
    ]
    if kind.takeoff_ff_low_gph is not None and kind.takeoff_ff_high_gph is not None:
        low, high = (quantity(each, "fuel_flow", units) for each in (kind.takeoff_ff_low_gph, kind.takeoff_ff_high_gph))
        facts.append(("Take-off fuel flow", f"{low} to {high}", "full throttle, rated rpm"))
    if kind.cht_watch_degf is not None or kind.cht_limit_degf is not None:
        limit = f"maker's limit {quantity(kind.cht_limit_degf, 'temperature', units)}"
        facts.append(("CHT", f"our watch line {quantity(kind.cht_watch_degf, 'temperature', units)}", limit))
    if build.total_time_h is not None:
        facts.append(("Total time at build", f"{build.total_time_h:g}{H}", "never falls"))
    if build.time_since_overhaul_h is not None:
        facts.append(("Time since overhaul at build", f"{build.time_since_overhaul_h:g}{H}", ""))
    if seat_now is not None:
        facts.append(("Basis clock", seat_now.get_basis_clock_display(), seat_now.get_prop_control_display()))
        if seat_now.dipstick_offset_qt:
            facts.append(("Dipstick offset", level(seat_now.dipstick_offset_qt, None, units), "from the pour-in"))
        if seat_now.winter_kit:
            facts.append(("Winter kit", "fitted", "take it off when it gets warm"))
    facts.append(("Numbers from", kind.source, ""))
    return tuple(facts)


def _oil_caption(oil: Mapping[str, Any], units: str) -> str:
    """The picture in one or two sentences with its numbers."""
    said = []
    if oil.get("rate_qt_h") is not None:
        at = f" at {oil['level_at_h']:.1f}{H}" if oil.get("level_at_h") is not None else ""
        said.append(f"Estimated loss {oil_rate(oil['rate_qt_h'], oil.get('u_qt_h'), units)}{at}.")
    judged = [each for each in oil.get("windows") or [] if each.get("assessable")]
    if judged:
        last = judged[-1]
        loss = oil_rate(last.get("rate_qt_h"), last.get("u_qt_h"), units)
        said.append(f"Loss {loss} between {last['from_h']:.1f}{H} and {last['to_h']:.1f}{H}.")
    if said and oil.get("p_stabilized") is not None:
        said.append(f"Probability that the loss has settled: {oil['p_stabilized']:.2f}; said from 0.85 on.")
    if not said:
        return "Not enough readings yet to judge a loss. Bars show one standard deviation."
    return " ".join([*said, "Bars show one standard deviation, the band nine times out of ten."])


def _power_caption(credit: Mapping[str, Any]) -> str:
    owed = credit.get("owed") or {}
    known = [
        f"{minutes_text(minutes)} at {band}\u202f%" for band, minutes in sorted(owed.items(), reverse=True) if minutes
    ]
    light = credit.get("light_min")
    parts = [f"Still owed: {', '.join(known)}." if known else "No minutes owed."]
    if light is not None:
        parts.append(f"Light running so far: {minutes_text(light)}.")
    share = credit.get("share_in_band")
    if share is not None:
        parts.append(f"{share:.0%} of the time in the air was in a band.")
    return " ".join(parts)
