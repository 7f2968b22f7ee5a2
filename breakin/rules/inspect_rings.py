"""I-rules of rings and fuel: compression, oil at the breather, the bores after a missed start, the fuel set-up."""

from __future__ import annotations

from breakin.calc.inspection import PASSING_SHARE, flow_at_sea_level_gph, loss_pct
from breakin.calc.said import Day, Values, fixed, gph, joined, number, said, sentences
from breakin.picture.picture import Picture
from breakin.record import InspectionFacts
from breakin.rules.base import CALL, WATCH, Answer, Asked, Hit, answer, rule
from breakin.rules.inspect_metal import SOURCE
from breakin.rules.inspect_soon import RINGS, evidence, hours_at, soon
from breakin.rules.reminders import LADDER, answered, forecast_on, in_break_in

AFTER_H = 25.0  # before, rings have not seated and a compression check says next to nothing
TWO = 2
HEAVY = 3


def _ring_looks(picture: Picture) -> tuple[InspectionFacts, ...]:
    return tuple(row for row in picture.record.inspections if row.kind in ("compression", "borescope"))


@rule(
    "I3",
    version=1,
    needs=("compression",),
    severity="watch; call when both are found at once",
    title=said("Differential compression"),
    text="In the first hours rings are unseated and the figures say next to nothing: they are kept and not judged. "
    "After 25 h, and not before the plan's first check, two cylinders under 60 of 80 psi are looked at soon; air loud "
    "at the breather on two cylinders after 25 h as well, because it goes past the rings.",
)
def compression(picture: Picture) -> Answer:
    plan = picture.record.plan
    first_h = max(AFTER_H, plan.first_check_h if plan else AFTER_H)
    checks = [row for row in picture.record.inspections if row.kind == "compression"]
    hits, asked = [], []
    for row in checks:
        hours = hours_at(picture, row)
        low, loud = _low(row) if hours > first_h else {}, _loud(row) if hours > AFTER_H else []
        told = []
        if len(low) >= TWO:
            each = (
                said("no. {number} {psi} psi, {share} % lost", number=no, psi=number(psi), share=fixed(pct, 0))
                for no, (psi, pct) in low.items()
            )
            supply = number(row.results["input_psi"])
            told.append(said("{cylinders} of {supply} psi", cylinders=joined(each, ", "), supply=supply))
        if len(loud) >= TWO:
            told.append(said("air heard at the breather on no. {cylinders}", cylinders=", ".join(loud)))
        if not told:
            continue
        text = said(
            "Compression at {hours} h: {found}. Look into these bores soon.",
            hours=fixed(hours),
            found=joined(told, "; "),
        )
        title = said("Inspect soon: compression")
        numbers = {f"no_{no}_psi": psi for no, (psi, _) in low.items()}
        severity = CALL if len(told) > 1 else WATCH
        hits.append(Hit(str(row.root), severity, text, SOURCE, row.at, numbers, evidence(row, "compression"), title))
        asked.append(soon(picture, RINGS, row, title, text, _ring_looks(picture)))
    early = sum(hours_at(picture, row) <= first_h for row in checks)
    early_words = f"{len(checks)} checks, {early} of them before {first_h:g} h and not judged."
    return answer(hits, early_words if early else f"{len(checks)} checks, none with two low cylinders.", asked=asked)


def _low(row: InspectionFacts) -> dict[str, tuple[float, float]]:
    """Cylinders under 60 of 80 psi: number -> (psi, percent lost)."""
    supply = row.results.get("input_psi")
    if not supply:
        return {}
    readings = row.results.get("readings") or {}
    return {
        number: (psi, loss_pct(psi, supply)) for number, psi in readings.items() if psi < PASSING_SHARE * supply - 1e-9
    }


def _loud(row: InspectionFacts) -> list[str]:
    return [number for number, where in (row.results.get("leak_heard") or {}).items() if where == "breather"]


@rule(
    "I4",
    version=1,
    needs=("breather",),
    severity="watch",
    title=said("Oil at the breather"),
    text="A breather that is heavy with oil below the settling level carries what passes the rings: compression and "
    "bores soon.",
)
def breather(picture: Picture) -> Answer:
    looks = [row for row in picture.record.inspections if row.results.get("breather") is not None]
    hits, asked = [], []
    for row in looks:
        if row.results["breather"] < HEAVY:
            continue
        text = said(
            "Oil heavy at the breather at {hours} h. Compression and bores soon.", hours=fixed(hours_at(picture, row))
        )
        title = said("Inspect soon: oil at the breather")
        numbers = {"breather": row.results["breather"]}
        hits.append(Hit(str(row.root), WATCH, text, SOURCE, row.at, numbers, evidence(row, "oil heavy"), title))
        asked.append(soon(picture, RINGS, row, title, text, _ring_looks(picture)))
    return answer(hits, "No heavy oil was seen at the breather.", asked=asked)


@rule(
    "I7",
    version=1,
    needs=("fuel set-up",),
    severity="call",
    title=said("Fuel-flow set-up"),
    text="After the set-up full-throttle fuel flow lies in the band of the type, brought to sea level where the fuel "
    "system follows density. Left outside it: call before the next flight.",
    safety=True,
)
def fuel_set_up(picture: Picture) -> Answer:
    kind = picture.record.type
    low, high = kind.takeoff_ff_low_gph, kind.takeoff_ff_high_gph
    if low is None:
        return Answer("not applicable", "The type has no band of full-throttle fuel flow.")
    row = next(one for one in reversed(picture.record.inspections) if one.results.get("full_gph") is not None)
    left, altitude = float(row.results["full_gph"]), row.results.get("density_altitude_ft")
    compared = flow_at_sea_level_gph(left, altitude) if kind.fuel_flow_compensates and altitude is not None else left
    band = (
        said("{low} to {high}", low=gph(low, bare=True), high=gph(high))
        if high is not None
        else said("at least {low}", low=gph(low))
    )
    left_at: Values = {"left": gph(left), "day": Day(row.at.date()), "band": band}
    told = (
        said(
            "Left at {left}, {compared} at sea level on {day}, band {band}.",
            compared=gph(compared, bare=True),
            **left_at,
        )
        if abs(compared - left) >= 0.05
        else said("Left at {left} on {day}, band {band}.", **left_at)
    )
    if round(compared, 2) >= low and (high is None or round(compared, 2) <= high):
        return Answer("met", told)
    text = sentences(
        said("Full-throttle fuel flow outside its band after the set-up."), told, said("Call before the next flight.")
    )
    numbers = {"left_gph": left, "compared_gph": round(compared, 2), "low_gph": low, "high_gph": high}
    source = f"engine type {kind.name}: {kind.source}"[:200]
    hit = Hit(
        str(row.root), CALL, text, source, row.at, numbers, evidence(row, told), said("Fuel flow left outside its band")
    )
    return Answer("not met", text, (hit,))


@rule(
    "I8",
    version=1,
    needs=("plan", "flight"),
    severity="none",
    title=said("Borescope after a missed start"),
    text="First two hours without high power cannot be made good by flying more: the bores are looked into at the "
    "plan's first check, 25 h unless the plan says otherwise.",
)
def added_borescope(picture: Picture) -> Answer:
    plan, credit = picture.record.plan, picture.power.credit
    if plan is None or not in_break_in(picture) or credit is None or not credit.final or credit.first_two != "missed":
        return Answer("not applicable", "The first two hours were not missed.")
    due_h, now_h = plan.first_check_h, picture.hours
    looks = (row for row in picture.record.inspections if row.kind == "borescope")
    done = next((row for row in looks if hours_at(picture, row) >= 0.8 * due_h - 1e-9), None)
    lines = ((0.8 * due_h, 1), (due_h, 2), (due_h + 5, 3), (due_h + 10, 4))
    reached = 0 if done else max((level for line, level in lines if now_h >= line - 1e-9), default=0)
    item = Asked(
        occurrence="missed start",
        kind="borescope",
        title=said("Borescope after a missed start"),
        text=said(
            "The first two hours were missed: look into the bores at {due} h; {hours} h run.",
            due=fixed(due_h, 0),
            hours=fixed(now_h),
        ),
        state="done" if done else ("waiting", "due_soon", "due", "late", "late")[reached],
        opened_at=picture.clock.flights[0].run.at,
        escalation="" if done else LADDER[reached],
        from_h=0.8 * due_h,
        due_h=due_h,
        late_h=due_h + 5,
        forecast_on=None if done else forecast_on(picture, due_h),
        closed_at=done.at if done else None,
        closed_by_kind="inspection" if done else "",
        closed_by_root=done.root if done else None,
    )
    return answered([item], "Done." if done else f"Not due yet: {item.text}")
