"""What the calculation says of a delivery plan, in sentences with numbers and how sure they are."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy

from breakin.calc.card import HOT_DDEGF, Instead
from breakin.calc.credit import HOUR_1_NEEDED_MIN, HOUR_2_NEEDED_MIN, Credit
from breakin.calc.delivery import Advice, FerryAnswer, Had, HourAnswer, can_have
from breakin.calc.delivery_flown import EXPECTED, HOT, SIGMA_PCT, STANDARD, Outcome, PlannedEngine
from breakin.entries.delivery import DeliveryEntry
from breakin.saying import spoken
from reports.delivery.planned import Answered
from reports.quantities import minutes_text, quantity
from shop import written

_DAYS = {
    STANDARD: gettext_lazy("a standard day"),
    HOT: gettext_lazy("a hot day"),
    EXPECTED: gettext_lazy("the expected day"),
}
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
            both = _and([made[same].engine, section.engine])
            made[same] = Section(**{**made[same].__dict__, "name": _("Both engines"), "engine": both})
    return tuple(made)


def _section(answered: Answered, entry: DeliveryEntry, units: str, shop_field: str) -> Section:
    seat, engine, found = answered.seat, answered.engine, answered.found
    of = str(seat.installation.engine)
    if engine is None or found is None:
        return Section(seat.name, of, answered.why)
    airs = [had.air.name for had in (found.ferry.had if found.ferry else found.hours[0].had)]
    airs = list(dict.fromkeys([*airs, *(had.air.name for hour in found.hours for had in hour.had)]))
    rows = [
        _row(
            _("Hour %(number)d") % {"number": hour.asked.number},
            place.field,
            hour.asked.altitude_ft,
            hour.had,
            airs,
            engine,
            units,
        )
        for hour, place in zip(found.hours, entry.hours, strict=True)
    ]
    if found.ferry:
        ferry = found.ferry
        rows.append(
            _row(
                _("Ferry"),
                _("to %(home)s") % {"home": entry.home},
                ferry.asked.altitude_ft,
                ferry.had,
                airs,
                engine,
                units,
            )
        )
    caption = _("The most power at full throttle, and how high 75 % can be had")
    if engine.chart.kind != "fixed_pitch":
        speed = {"speed": quantity(engine.rpm, "rpm", units)}
        caption = _("The most power at full throttle and %(speed)s, and how high 75 %% can be had") % speed
    sure = found.outcome.rank == (2, True)
    return Section(
        name=seat.name,
        engine=of,
        verdict=_verdict(found.outcome),
        good=sure,
        rows=tuple(rows),
        heads=tuple(_head(name) for name in airs),
        caption=caption,
        sentences=tuple(
            [line for hour in found.hours for line in _hour(hour, engine, units)]
            + (_ferry(found.ferry, engine, found.outcome, units) if found.ferry else [])
        ),
        how_sure=_how_sure(found.outcome),
        advice=_advice(found.advice, found.hours, found.outcome, entry, units, shop_field),
    )


def _head(name: str) -> str:
    if name == HOT:
        return _("Hot day, %(degrees)d °C above standard") % {"degrees": round(HOT_DDEGF / 1.8)}
    return {STANDARD: _("Standard day"), EXPECTED: _("Expected day")}[name]


def _row(
    leg: str, where: str, altitude_ft: float, had: Sequence[Had], airs: Sequence[str], engine: PlannedEngine, units: str
) -> Row:
    cells = {each.air.name: _cell(each, engine, units) for each in had}
    return Row(
        f"{leg}, {quantity(altitude_ft, 'altitude', units)}",
        where,
        tuple((_head(name), *cells.get(name, (_("not given"), _("no temperature")))) for name in airs),
    )


def _cell(had: Had, engine: PlannedEngine, units: str) -> tuple[str, str]:
    if had.best is None:
        value = _("not known: the chart ends below")
    else:
        value = {
            "yes": _("%(best)d %%: 75 %% can be had"),
            "no": _("%(best)d %%: 75 %% can't be had"),
            "close": _("%(best)d %%: 75 %% too close to say"),
        }[can_have(had.best, engine.bands.upper[0])] % {"best": round(had.best)}
    if had.reach.highest_ft is None:
        return value, _("75 % nowhere at or above the lowest sensible altitude")
    up_to = {"altitude": quantity(had.reach.highest_ft // 100 * 100, "altitude", units)}
    if had.reach.capped:
        return value, _("75 %% up to %(altitude)s, where plan or chart ends") % up_to
    return value, _("75 %% up to %(altitude)s") % up_to


def _verdict(outcome: Outcome) -> tuple[str, ...]:
    """A sentence for each of the two hours."""
    return tuple(_one_hour(number, outcome) for number in (1, 2))


def _one_hour(number: int, outcome: Outcome) -> str:
    met = [name for name, credit in outcome.credits if _met(credit, number)]
    missed = [name for name, credit in outcome.credits if not _met(credit, number)]
    by_name = dict(outcome.credits)
    told: dict[str, object] = {"number": number}
    if not missed:
        return _("Hour %(number)d would be met: %(minutes)s.") % {**told, "minutes": _minutes(by_name[HOT], number)}
    worst = missed[-1] if HOT not in missed else HOT
    told["lost"] = f"{_minutes(by_name[worst], number)}{_ended(by_name[worst], number)}"
    if not met:
        return _("Hour %(number)d would be missed: %(lost)s.") % told
    told |= {"days": _days(met), "others": _days(missed)}
    return _("Hour %(number)d would be met on %(days)s, and missed on %(others)s: %(lost)s.") % told


def _days(names: Sequence[str]) -> str:
    return _and([str(_DAYS[name]) for name in names])


def _and(parts: Sequence[str]) -> str:
    if len(parts) == 2:
        return _("%(first)s and %(second)s") % {"first": parts[0], "second": parts[1]}
    return ", ".join(parts)


def _met(credit: Credit, number: int) -> bool:
    return credit.hour_1.met if number == 1 else credit.hour_2.met


def _minutes(credit: Credit, number: int) -> str:
    if number == 1:
        said = _("%(upper)d min at 75 %%, %(needed)d are asked for")
        return said % {"upper": round(credit.hour_1.target_75.central), "needed": round(HOUR_1_NEEDED_MIN)}
    stage = credit.hour_2
    said = _("%(upper)d min at 75 %% and %(lower)d min at 65 %%, %(needed)d are asked for at each")
    return said % {
        "upper": round(stage.target_75.central),
        "lower": round(stage.target_65.central),
        "needed": round(HOUR_2_NEEDED_MIN),
    }


def _ended(credit: Credit, number: int) -> str:
    """Why nothing more can be earned: the stage's cap of running has passed."""
    stage = credit.hour_1 if number == 1 else credit.hour_2
    return _(", and the plan's hours for it are used up") if stage.ended == "cap" else _(", the rest is still owed")


def _hour(hour: HourAnswer, engine: PlannedEngine, units: str) -> list[str]:
    said = []
    if hour.too_low:
        low = {"number": hour.asked.number, "lowest": quantity(hour.asked.lowest_ft, "altitude", units)}
        said.append(_("Hour %(number)d lies below the lowest sensible altitude over this field, %(lowest)s.") % low)
    if hour.too_high and engine.cap_ft is not None:
        high = {"number": hour.asked.number, "cap": quantity(engine.cap_ft, "altitude", units)}
        above = _("Hour %(number)d lies above %(cap)s, the highest altitude for cooling: 75 %% earns no credit there.")
        said.append(above % high)
    return said


def _ferry(ferry: FerryAnswer, engine: PlannedEngine, outcome: Outcome, units: str) -> list[str]:
    flight = {
        "time": minutes_text(ferry.asked.minutes),
        "altitude": quantity(ferry.asked.altitude_ft, "altitude", units),
        "best": ", ".join(_best(had) for had in ferry.had),
    }
    said = [_("The ferry, %(time)s at %(altitude)s: full throttle gives %(best)s.") % flight]
    said += [_ferry_gives(ferry, engine, kind, units) for kind in dict.fromkeys(ferry.gives)]
    light = {name: credit.light_first_two_min for name, credit in outcome.credits}
    if max(light.values()) > _LIGHT_CALL_MIN:
        worst = max(light, key=lambda name: light[name])
        fall = _(
            "On %(day)s %(minutes)d min of light running would fall into the first two hours; above %(most)d min the "
            "shop calls the same day."
        )
        said.append(fall % {"day": _DAYS[worst], "minutes": round(light[worst]), "most": round(_LIGHT_CALL_MIN)})
    return said


def _best(had: Had) -> str:
    day = {"day": _DAYS[had.air.name]}
    if had.best is None:
        return _("not known on %(day)s") % day
    return _("%(best)d %% on %(day)s") % {"best": round(had.best), **day}


def _ferry_gives(ferry: FerryAnswer, engine: PlannedEngine, kind: str, units: str) -> str:
    """What the ferry's cruise counts as, on the days when it counts as this."""
    mine = [(had, light) for had, gives, light in zip(ferry.had, ferry.gives, ferry.light_min, strict=True)
            if gives == kind]  # fmt: skip
    every = len(mine) == len(ferry.had)
    gaps = {
        "days": _("each of these days") if every else _days([had.air.name for had, _light in mine]),
        "cruise": minutes_text(ferry.cruise_min),
        "light": minutes_text(mine[0][1]),
        "low": written.short(engine.bands.low),
        "cap": quantity(engine.cap_ft, "altitude", units),
    }
    told = {
        "75": _("On %(days)s its %(cruise)s of cruise can be flown at 75 %%, as the card asks."),
        "65": _("On %(days)s its %(cruise)s of cruise can count as 65 %% only; none of it counts as 75 %%."),
        "between": _("On %(days)s its %(cruise)s of cruise lie between the bands and earn nothing."),
        "light": _("On %(days)s %(light)s of it count as light running, below %(low)s %%."),
        "too high": _("On %(days)s 75 %% can be had, but not cooled: above %(cap)s it earns no credit."),
        "not known": _("On %(days)s the chart says nothing at that altitude, so no credit can be promised."),
    }[kind] % gaps
    edges = (engine.bands.low, *engine.bands.lower, engine.bands.upper[0])
    near = [edge for had, _light in mine if had.best is not None for edge in edges if abs(had.best - edge) < SIGMA_PCT]
    if not near:
        return told
    doubt = _("It lies within ±%(sigma)s %% of %(edge)s %%, so this is not sure.")
    return f"{told} {doubt % {'sigma': written.short(SIGMA_PCT), 'edge': written.short(near[0])}}"


def _how_sure(outcome: Outcome) -> str:
    base = _(
        "The chart gives power to ±%(sigma)s %% (one sigma). Elevations stand for pressure altitudes, the expected day "
        "is as far from standard aloft as at the field, and climbs are taken at 500 ft/min."
    ) % {"sigma": written.short(SIGMA_PCT)}
    unsure = [
        reason for _name, credit in outcome.credits for reason in credit.reasons if reason.startswith("Undecided")
    ]
    if unsure:
        return f"{_('Not sure.')} {spoken(unsure[0])} {base}"
    sure = _("No setting lies so near the edge of a band that its doubt would turn the first two hours over.")
    return f"{sure} {base}"


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
        nothing = _(
            "No other order, altitude or field that was tried would earn more. Ask the maker how these hours are to be "
            "flown."
        )
        said.append(nothing)
    return tuple(dict.fromkeys(said))


def _change(advice: Advice, entry: DeliveryEntry, units: str, shop_field: str) -> str:
    gaps = {
        "at": quantity(advice.altitude_ft, "altitude", units),
        "fields": _and(list(dict.fromkeys(hour.field for hour in entry.hours))),
        "shop_field": shop_field or _("the shop’s field"),
    }
    lower = _("Fly the first two hours at or below %(at)s.")
    if entry.ferry:
        lower = _("Fly the first two hours at or below %(at)s, before the ferry.")
    return {
        "hours first": _("Fly both hours from %(fields)s before the ferry."),
        "ferry low": _("Ferry at or below %(at)s and fly the card on the way, 75 %% first."),
        "lower hours": lower,
        "shop field": _("Fly the first two hours from %(shop_field)s, at %(at)s, before it goes home."),
    }[advice.change] % gaps


def _then(outcome: Outcome) -> str:
    first, second = outcome.met
    if first and second:
        return _("Then both would be met.") if outcome.sure else _("Then both would be met, though that is not sure.")
    if first or second:
        return _("Then hour %(number)d would be met, the other not.") % {"number": 1 if first else 2}
    return _("Then they would be met on some days only.")


def _instead(found: Instead, number: int, units: str) -> list[str]:
    said = []
    if found.rpm is not None:
        faster = _("Hour %(number)d: %(rpm)d rpm or more would do, where the maker allows it continuously.")
        said.append(faster % {"number": number, "rpm": round(found.rpm)})
    if found.field_ft is not None:
        field = quantity(found.field_ft // 100 * 100, "altitude", units)
        said.append(_("Hour %(number)d: a field at or below %(field)s would do.") % {"number": number, "field": field})
    if found.oat_degf is not None:
        heat = {"number": number, "heat": quantity(found.oat_degf, "temperature", units)}
        said.append(_("Hour %(number)d: air of %(heat)s or less at the lowest sensible altitude would do.") % heat)
    return said
