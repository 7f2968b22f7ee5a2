"""What the calculation says of a delivery plan, in sentences with numbers and how sure they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from breakin.calc.card import HOT_DDEGF, Instead
from breakin.calc.credit import HOUR_1_NEEDED_MIN, HOUR_2_NEEDED_MIN, Credit
from breakin.calc.delivery import Advice, FerryAnswer, Had, HourAnswer, can_have
from breakin.calc.delivery_flown import EXPECTED, HOT, SIGMA_PCT, STANDARD, Outcome, PlannedEngine
from breakin.entries.delivery import DeliveryEntry
from reports.delivery.planned import Answered
from reports.quantities import minutes_text, quantity

_DAYS = {STANDARD: "a standard day", HOT: "a hot day", EXPECTED: "the expected day"}
_LIGHT_CALL_MIN = 10.0  # rule P4: more light running in the first two hours has the shop call the same day


@dataclass(frozen=True)
class Row:
    """A row of the table: which leg, then a cell (day, value, small print) for each air."""

    leg: str
    where: str
    cells: tuple[tuple[str, str, str], ...]


@dataclass(frozen=True)
class Section:
    """What is said of one engine, or of two that get the same answer. why : why nothing is said, else ""."""

    name: str
    engine: str
    why: str = ""
    verdict: tuple[str, ...] = ()
    good: bool = False
    rows: tuple[Row, ...] = ()
    heads: tuple[str, ...] = ()
    caption: str = ""
    sentences: tuple[str, ...] = ()
    how_sure: str = ""
    advice: tuple[str, ...] = ()


def sections(found: Sequence[Answered], entry: DeliveryEntry, units: str, shop_field: str) -> tuple[Section, ...]:
    """One section for each engine; engines that get the same answer share one."""
    made: list[Section] = []
    for answered in found:
        section = _section(answered, entry, units, shop_field)
        same = next((k for k, s in enumerate(made) if (s.why, s.rows, s.verdict) == (section.why, section.rows,
                    section.verdict)), None)  # fmt: skip
        if same is None:
            made.append(section)
        else:
            both = f"{made[same].engine} and {section.engine}"
            made[same] = Section(**{**made[same].__dict__, "name": "Both engines", "engine": both})
    return tuple(made)


def _section(answered: Answered, entry: DeliveryEntry, units: str, shop_field: str) -> Section:
    seat, engine, found = answered.seat, answered.engine, answered.found
    of = str(seat.installation.engine)
    if engine is None or found is None:
        return Section(seat.name, of, answered.why)
    airs = [had.air.name for had in (found.ferry.had if found.ferry else found.hours[0].had)]
    airs = list(dict.fromkeys([*airs, *(had.air.name for hour in found.hours for had in hour.had)]))
    rows = [
        _row(f"Hour {hour.asked.number}", place.field, hour.asked.altitude_ft, hour.had, airs, engine, units)
        for hour, place in zip(found.hours, entry.hours, strict=True)
    ]
    if found.ferry:
        ferry = found.ferry
        rows.append(_row("Ferry", f"to {entry.home}", ferry.asked.altitude_ft, ferry.had, airs, engine, units))
    speed = "" if engine.chart.kind == "fixed_pitch" else f" and {quantity(engine.rpm, 'rpm', units)}"
    sure = found.outcome.rank == (2, True)
    return Section(
        name=seat.name,
        engine=of,
        verdict=_verdict(found.outcome),
        good=sure,
        rows=tuple(rows),
        heads=tuple(_head(name) for name in airs),
        caption=f"The most power at full throttle{speed}, and how high 75 % can be had",
        sentences=tuple(
            [line for hour in found.hours for line in _hour(hour, engine, units)]
            + (_ferry(found.ferry, engine, found.outcome, units) if found.ferry else [])
        ),
        how_sure=_how_sure(found.outcome),
        advice=_advice(found.advice, found.hours, found.outcome, entry, units, shop_field),
    )


def _head(name: str) -> str:
    if name == HOT:
        return f"Hot day, {HOT_DDEGF / 1.8:.0f} °C above standard"
    return {STANDARD: "Standard day", EXPECTED: "Expected day"}[name]


def _row(
    leg: str, where: str, altitude_ft: float, had: Sequence[Had], airs: Sequence[str], engine: PlannedEngine, units: str
) -> Row:
    cells = {each.air.name: _cell(each, engine, units) for each in had}
    return Row(
        f"{leg}, {quantity(altitude_ft, 'altitude', units)}",
        where,
        tuple((_head(name), *cells.get(name, ("not given", "no temperature"))) for name in airs),
    )


def _cell(had: Had, engine: PlannedEngine, units: str) -> tuple[str, str]:
    if had.best is None:
        value = "not known: the chart ends below"
    else:
        word = {"yes": "can be had", "no": "can't be had", "close": "too close to say"}[
            can_have(had.best, engine.bands.upper[0])
        ]
        value = f"{had.best:.0f} %: 75 % {word}"
    if had.reach.highest_ft is None:
        return value, "75 % nowhere at or above the lowest sensible altitude"
    ends = ", where plan or chart ends" if had.reach.capped else ""
    return value, f"75 % up to {quantity(had.reach.highest_ft // 100 * 100, 'altitude', units)}{ends}"


def _verdict(outcome: Outcome) -> tuple[str, ...]:
    """A sentence for each of the two hours."""
    return tuple(_one_hour(number, outcome) for number in (1, 2))


def _one_hour(number: int, outcome: Outcome) -> str:
    met = [name for name, credit in outcome.credits if _met(credit, number)]
    missed = [name for name, credit in outcome.credits if not _met(credit, number)]
    by_name = dict(outcome.credits)
    if not missed:
        return f"Hour {number} would be met: {_minutes(by_name[HOT], number)}."
    worst = missed[-1] if HOT not in missed else HOT
    lost = f"{_minutes(by_name[worst], number)}{_ended(by_name[worst], number)}"
    if not met:
        return f"Hour {number} would be missed: {lost}."
    days = " and ".join(_DAYS[name] for name in met)
    others = " and ".join(_DAYS[name] for name in missed)
    return f"Hour {number} would be met on {days}, and missed on {others}: {lost}."


def _met(credit: Credit, number: int) -> bool:
    return credit.hour_1.met if number == 1 else credit.hour_2.met


def _minutes(credit: Credit, number: int) -> str:
    if number == 1:
        return f"{credit.hour_1.target_75.central:.0f} min at 75 %, {HOUR_1_NEEDED_MIN:.0f} are asked for"
    stage = credit.hour_2
    return (
        f"{stage.target_75.central:.0f} min at 75 % and {stage.target_65.central:.0f} min at 65 %, "
        f"{HOUR_2_NEEDED_MIN:.0f} are asked for at each"
    )


def _ended(credit: Credit, number: int) -> str:
    """Why nothing more can be earned: the stage's cap of running has passed."""
    stage = credit.hour_1 if number == 1 else credit.hour_2
    return ", and the plan's hours for it are used up" if stage.ended == "cap" else ", the rest is still owed"


def _hour(hour: HourAnswer, engine: PlannedEngine, units: str) -> list[str]:
    said = []
    if hour.too_low:
        lowest = quantity(hour.asked.lowest_ft, "altitude", units)
        said.append(f"Hour {hour.asked.number} lies below the lowest sensible altitude over this field, {lowest}.")
    if hour.too_high and engine.cap_ft is not None:
        cap = quantity(engine.cap_ft, "altitude", units)
        said.append(
            f"Hour {hour.asked.number} lies above {cap}, the highest altitude for cooling: 75 % earns no credit there."
        )
    return said


def _ferry(ferry: FerryAnswer, engine: PlannedEngine, outcome: Outcome, units: str) -> list[str]:
    best = ", ".join(
        f"{had.best:.0f} % on {_DAYS[had.air.name]}" if had.best is not None else f"not known on {_DAYS[had.air.name]}"
        for had in ferry.had
    )
    altitude = quantity(ferry.asked.altitude_ft, "altitude", units)
    said = [f"The ferry, {minutes_text(ferry.asked.minutes)} at {altitude}: full throttle gives {best}."]
    said += [_ferry_gives(ferry, engine, kind, units) for kind in dict.fromkeys(ferry.gives)]
    light = {name: credit.light_first_two_min for name, credit in outcome.credits}
    if max(light.values()) > _LIGHT_CALL_MIN:
        worst = max(light, key=lambda name: light[name])
        said.append(
            f"On {_DAYS[worst]} {light[worst]:.0f} min of light running would fall into the first two hours; above "
            f"{_LIGHT_CALL_MIN:.0f} min the shop calls the same day."
        )
    return said


def _ferry_gives(ferry: FerryAnswer, engine: PlannedEngine, kind: str, units: str) -> str:
    """What the ferry's cruise counts as, on the days when it counts as this."""
    mine = [(had, light) for had, gives, light in zip(ferry.had, ferry.gives, ferry.light_min, strict=True)
            if gives == kind]  # fmt: skip
    days = "each of these days" if len(mine) == len(ferry.had) else " and ".join(_DAYS[h.air.name] for h, _ in mine)
    cruise = minutes_text(ferry.cruise_min)
    lower, upper = engine.bands.lower, engine.bands.upper
    told = {
        "75": f"its {cruise} of cruise can be flown at 75 %, as the card asks",
        "65": f"its {cruise} of cruise can count as 65 % only; none of it counts as 75 %",
        "between": f"its {cruise} of cruise lie between the bands and earn nothing",
        "light": f"{minutes_text(mine[0][1])} of it count as light running, below {engine.bands.low:g} %",
        "too high": "75 % can be had, but not cooled: above "
        f"{quantity(engine.cap_ft, 'altitude', units)} it earns no credit",
        "not known": "the chart says nothing at that altitude, so no credit can be promised",
    }[kind]
    edges = (engine.bands.low, *lower, upper[0])
    near = [edge for had, _ in mine if had.best is not None for edge in edges if abs(had.best - edge) < SIGMA_PCT]
    doubt = f" It lies within ±{SIGMA_PCT:g} % of {near[0]:g} %, so this is not sure." if near else ""
    return f"On {days} {told}.{doubt}"


def _how_sure(outcome: Outcome) -> str:
    base = (
        f"The chart gives power to ±{SIGMA_PCT:g} % (one sigma). Elevations stand for pressure altitudes, the "
        "expected day is as far from standard aloft as at the field, and climbs are taken at 500 ft/min."
    )
    unsure = [reason for _, credit in outcome.credits for reason in credit.reasons if reason.startswith("Undecided")]
    if unsure:
        return f"Not sure. {unsure[0]} {base}"
    return f"No setting lies so near the edge of a band that its doubt would turn the first two hours over. {base}"


def _advice(
    advice: Sequence[Advice],
    hours: Sequence[HourAnswer],
    outcome: Outcome,
    entry: DeliveryEntry,
    units: str,
    shop_field: str,
) -> tuple[str, ...]:
    if outcome.rank == (2, True):
        return ()
    said = [f"{_change(each, entry, units, shop_field)} {_then(each.outcome)}" for each in advice]
    for hour in hours:
        if hour.instead is not None:
            said += _instead(hour.instead, hour.asked.number, units)
    if not said:
        said.append(
            "No other order, altitude or field that was tried would earn more. Ask the maker how these hours are to be "
            "flown."
        )
    return tuple(dict.fromkeys(said))


def _change(advice: Advice, entry: DeliveryEntry, units: str, shop_field: str) -> str:
    at = quantity(advice.altitude_ft, "altitude", units)
    fields = " and ".join(dict.fromkeys(hour.field for hour in entry.hours))
    return {
        "hours first": f"Fly both hours from {fields} before the ferry.",
        "ferry low": f"Ferry at or below {at} and fly the card on the way, 75 % first.",
        "lower hours": f"Fly the first two hours at or below {at}{', before the ferry' if entry.ferry else ''}.",
        "shop field": f"Fly the first two hours from {shop_field or 'the shop’s field'}, at {at}, before it goes home.",
    }[advice.change]


def _then(outcome: Outcome) -> str:
    first, second = outcome.met
    if first and second:
        return "Then both would be met." if outcome.sure else "Then both would be met, though that is not sure."
    if first or second:
        return f"Then hour {1 if first else 2} would be met, the other not."
    return "Then they would be met on some days only."


def _instead(found: Instead, number: int, units: str) -> list[str]:
    said = []
    if found.rpm is not None:
        said.append(f"Hour {number}: {found.rpm:.0f} rpm or more would do, where the maker allows it continuously.")
    if found.field_ft is not None:
        field = quantity(found.field_ft // 100 * 100, "altitude", units)
        said.append(f"Hour {number}: a field at or below {field} would do.")
    if found.oat_degf is not None:
        heat = quantity(found.oat_degf, "temperature", units)
        said.append(f"Hour {number}: air of {heat} or less at the lowest sensible altitude would do.")
    return said
