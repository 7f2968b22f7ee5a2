"""P1 to P6: what power was flown, what credit it earns, and what could have been had.

Bands, minutes and caps are the plan's; the chart is the engine type's. No published definition of power credit exists.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from breakin.calc.credit import LANDING_MIN, VERDICT_WORDS
from breakin.calc.plan import Credit
from breakin.calc.said import Said, fixed, said, sentences
from breakin.picture.blocks import BlockPicture
from breakin.picture.clock import PlacedRun
from breakin.picture.picture import Picture
from breakin.picture.recorded import engine_of
from breakin.rules.base import CALL, NOTE, WATCH, Answer, Hit, answer, flight_evidence, plan_source, rule

LIGHT_CALL_MIN = 10.0
FIRST_TWO_H = 2.0
LATER_SHARE = 0.7
LATER_CHANGES_PER_H = 1.0
EVEN_SOURCE = "twin: even power on both engines; common practice, no published source"


@rule(
    "P1",
    version=2,
    needs=("blocks",),
    severity="note",
    title=said("Percent power"),
    text="Percent of rated power from pressure altitude, rpm, manifold pressure and temperature by the type's chart, "
    "the instruments' errors taken off; one sigma 2 % of hand-written readings. A recording gives power by chart and "
    "by fuel flow, weighed by their doubt; where the two disagree, the sensor that is likely wrong is named.",
)
def percent_power(picture: Picture) -> Answer:
    blocks = picture.power.blocks
    unknown = [block for block in blocks if block.pct is None and block.source != "stated"]
    hits = tuple(_two_powers(picture))
    said = _usual_method(blocks)
    if not unknown:
        return Answer("met", f"Power is known for all {len(blocks)} settings.{said}", hits)
    minutes = sum(block.duration_min for block in unknown)
    return Answer("not known", f"Power is not known for {minutes:.0f} min: {unknown[0].why_unknown}.{said}", hits)


def _usual_method(blocks: Sequence[BlockPicture]) -> str:
    """How most of the power was found, in a sentence."""
    minutes: dict[str, float] = {}
    for block in blocks:
        if block.pct is not None and block.method:
            minutes[block.method] = minutes.get(block.method, 0.0) + block.duration_min
    if not minutes:
        return ""
    usual = max(minutes, key=lambda method: minutes[method])
    others = len(minutes) - 1
    return f" Most of it: {usual}{f'; the rest in {others} other ways' if others > 1 else ''}."


def _two_powers(picture: Picture) -> Iterator[Hit]:
    """Chart and fuel flow that disagree: once for each sensor and set of flights, from the first that shows it."""
    shown: dict[str, list[PlacedRun]] = {}
    for placed in picture.clock.flights:
        engine = engine_of(placed.run)
        for sensor in engine.disagree if engine else ():
            shown.setdefault(sensor, []).append(placed)
    for sensor, flights in shown.items():
        first, last = flights[0].run, engine_of(flights[-1].run)
        if last is None:
            continue
        apart = last.chart_minus_fuel_pct
        words = sensor.replace("_", " ")
        apart_words = said(
            "Power by the chart and by fuel flow do not agree: {sensor}, {flights}.",
            sensor=SENSORS.get(sensor, words),
            flights=_flights(flights),
        )
        doubt = in_doubt(last.suspect) or said("Which of the two is wrong cannot be told.")
        text = sentences(apart_words, _chart_gives(apart), doubt)
        evidence = tuple(flight_evidence(placed.run.root, words) for placed in flights)
        yield Hit(
            f"{first.root}:{sensor}", NOTE, text, _chart_source(picture), first.at,
            {"chart_minus_fuel_pct": apart, "flights": len(flights)}, evidence, said("Two powers disagree"),
        )  # fmt: skip


SENSORS = {"manifold_pressure": said("manifold pressure"), "fuel_flow": said("fuel flow")}


def in_doubt(suspect: str) -> str:
    """Which instrument is likely wrong, as a recording named it; "" where it named none."""
    return said("In doubt: {suspect}.", suspect=Said(suspect.rstrip("."))) if suspect else ""


def _chart_gives(apart: float | None) -> str:
    if apart is None:
        return ""
    share = fixed(abs(apart), 0)
    return (
        said("The chart gives {apart} % more.", apart=share)
        if apart > 0
        else said("The chart gives {apart} % less.", apart=share)
    )


def _flights(flights: list[PlacedRun]) -> Said:
    if len(flights) == 1:
        return said("on one recorded flight")
    return said("on {flights} recorded flights", flights=fixed(len(flights), 0))


@rule(
    "P2",
    version=2,
    needs=("flight", "plan"),
    severity="none",
    title=said("Credit bands"),
    text="75 % credit from 72 to 85 %, 65 % credit from 62 to 68 %, held steady for at least 10 min; airborne under "
    "60 % is light running. The plan may set other bands.",
)
def bands(picture: Picture) -> Answer:
    credit = picture.power.credit
    if credit is None:
        return Answer("not known", picture.power.why_not)
    light = f", {credit.light_share:.0%} of airborne time light" if credit.light_share is not None else ""
    stages_ = (credit.hour_1, credit.hour_2, credit.later)
    least, most = (sum(getattr(stage.target_75, name) for stage in stages_) for name in ("least", "most"))
    doubt = f" ({least:.0f} to {most:.0f})" if round(least) != round(most) else ""
    return Answer("met", f"{credit.minutes_upper:.0f} min in the upper band{doubt}{light}.")


@rule(
    "P3",
    version=2,
    needs=("flight", "plan"),
    severity="none",
    title=said("Stages"),
    text="Hour 1: at least 55 min at 75 % with no more than one change in 20 min. Hour 2: at least 25 min at each of "
    "75 and 65 % and two changes. Later: 70 % of airborne time in a band, one change an hour.",
)
def stages(picture: Picture) -> Answer:
    credit = picture.power.credit
    if credit is None:
        return Answer("not known", picture.power.why_not)
    done = "; ".join(
        f"{name} {'met' if stage.met else 'not met' if stage.ended else 'not over'}"
        for name, stage in (("hour 1", credit.hour_1), ("hour 2", credit.hour_2))
    )
    if credit.later_share is None:
        return Answer("met" if credit.hour_1.met and credit.hour_2.met else "not known", f"{done}.")
    held = alternation_held(credit)
    later = (
        f"later {credit.later_share:.0%} in a band, {credit.later_changes_per_h or 0:.1f} changes an hour: alternation "
        f"{'held' if held else 'not held'}"
    )
    good = credit.later_share >= LATER_SHARE and held
    return Answer("met" if good and credit.hour_1.met and credit.hour_2.met else "not met", f"{done}; {later}.")


def alternation_held(credit: Credit) -> bool:
    """Has power been changed at least once an hour after the first two hours?"""
    return (credit.later_changes_per_h or 0.0) >= LATER_CHANGES_PER_H


@rule(
    "P4",
    version=2,
    needs=("flight", "plan"),
    severity="watch; call when missed or light",
    title=said("First two hours"),
    text="The first two hours do about four fifths of the work. Missed, they cannot be made good by more hours: the "
    "plan adds watch, expected hours grow by half, and a borescope look follows at 25 h. More than 10 min light in the "
    "first two hours asks for a call the same day.",
)
def first_two_hours(picture: Picture) -> Answer:
    credit = picture.power.credit
    if credit is None:
        return Answer("not known", picture.power.why_not)
    reasons = sentences(*credit.reasons)
    hits = [*_verdict(picture), *_light(picture)]
    if credit.first_two == "not known":
        return Answer("not known", reasons, tuple(hits))
    if credit.undecided:
        return Answer("not known", sentences(_undecided(credit), reasons), tuple(hits))
    met = credit.first_two.startswith("met")
    return Answer("met" if met else "not met", sentences(_judged(credit), reasons), tuple(hits))


def _undecided(credit: Credit) -> Said:
    word = VERDICT_WORDS[credit.first_two]
    return said("First two hours undecided; by central values {verdict}.", verdict=word)


def _judged(credit: Credit) -> Said:
    return said("First two hours {verdict}.", verdict=VERDICT_WORDS[credit.first_two])


def _verdict(picture: Picture) -> Iterator[Hit]:
    credit = picture.power.credit
    if credit is None or not credit.final:
        return
    roots = credit.flights
    placed = next((run for run in picture.clock.flights if str(run.run.root) == roots[-1]), None)
    if placed is None:
        return
    at, reasons = placed.run.at, sentences(*credit.reasons)
    evidence = tuple({"kind": "flight", "root": root, "words": "in the first two hours"} for root in roots)
    numbers = {"verdict": credit.first_two, "minutes_upper": round(credit.minutes_upper, 1)}
    source = plan_source(picture)
    if credit.undecided:
        severity = NOTE if credit.first_two.startswith("met") else WATCH
        text, title = sentences(_undecided(credit), reasons), said("First two hours undecided")
        yield Hit("first two:undecided", severity, text, source, at, numbers, evidence, title)
    elif credit.first_two == "missed":
        now = said("Talk to the pilot today; the plan adds watch and a borescope at 25 h.")
        text, title = sentences(_judged(credit), reasons, now), said("First two hours missed")
        yield Hit("first two:missed", CALL, text, source, at, numbers, evidence, title)
    elif credit.first_two in ("partly", "not achievable"):
        text, key = sentences(_judged(credit), reasons), f"first two:{credit.first_two}"
        title = said("First two hours {verdict}", verdict=VERDICT_WORDS[credit.first_two])
        yield Hit(key, WATCH, text, source, at, numbers, evidence, title)


def _light(picture: Picture) -> Iterator[Hit]:
    """Light running in the first two hours, once each time that ten more minutes have come together."""
    credit = picture.power.credit
    if credit is None or credit.light_first_two_min <= LIGHT_CALL_MIN:
        return
    gathered = 0.0
    for placed in picture.clock.flights:
        if placed.start_h >= FIRST_TWO_H:
            return
        gathered += light_minutes(picture, placed.run.root)
        if gathered > LIGHT_CALL_MIN:
            text = said(
                "{minutes} min of light running in the first two hours: too little pressure behind the rings. Call "
                "today.",
                minutes=fixed(gathered, 0),
            )
            evidence = (flight_evidence(placed.run.root, f"{gathered:.0f} min light"),)
            yield Hit(
                f"{placed.run.root}:light",
                CALL,
                text,
                plan_source(picture),
                placed.run.at,
                {"light_min": gathered},
                evidence,
                said("Light running"),
            )
            gathered = 0.0


def light_minutes(picture: Picture, root: object) -> float:
    """Light minutes of one flight, those of the last ten before landing left out."""
    blocks = [block for block in picture.power.blocks if block.placed.run.root == root]
    left = sum(block.duration_min for block in blocks)
    light = 0.0
    for block in blocks:
        left -= block.duration_min
        landing = min(block.duration_min, max(0.0, LANDING_MIN - left))
        if block.label == "light":
            light += block.duration_min - landing
    return light


@rule(
    "P5",
    version=3,
    needs=("flight", "plan"),
    severity="note",
    title=said("Power that could be had"),
    text="Where full throttle 1,500 ft above the field, at the planned rpm or, with a fixed-pitch propeller, at rated, "
    "gives less than the upper band, 75 % was not achievable that day: higher rpm, a cooler hour or a lower field.",
)
def achievable(picture: Picture) -> Answer:
    least = picture.power.bands.upper[0]
    known, hits = 0, []
    for placed in picture.clock.flights:
        best = picture.power.achievable[placed.run.root]
        if best is None:
            continue
        known += 1
        if best < least:
            text = said(
                "At most {best} % could be had 1,500 ft above the field that day, {least} % is asked for: not "
                "achievable. Higher rpm, a cooler hour or a lower field.",
                best=fixed(best, 0),
                least=fixed(least, 0),
            )
            evidence = (flight_evidence(placed.run.root, f"at most {best:.0f} %"),)
            numbers = {"best_pct": best, "asked_pct": least}
            at = placed.run.at
            hits.append(
                Hit(
                    str(placed.run.root),
                    NOTE,
                    text,
                    _chart_source(picture),
                    at,
                    numbers,
                    evidence,
                    said("Not achievable"),
                )
            )
    if not known:
        return Answer("not known", "Field elevation, temperature or chart are not known.")
    return answer(hits, "75 % could be had on every flight of which the field and temperature are known.")


def _chart_source(picture: Picture) -> str:
    kind = picture.record.type
    return f"power chart of {kind.name}: {kind.chart.source if kind.chart else ''}"[:200]


@rule(
    "P6",
    version=2,
    needs=("both engines",),
    severity="note; call when far apart",
    title=said("Split power"),
    text="A twin in break-in needs even power: within 0.5 inHg, 25 rpm and 3 %. More than 6 % apart for more than "
    "10 min asks for a call. The older engine runs at break-in power as well. A recording compares the whole cruise.",
)
def split_power(picture: Picture) -> Answer:
    hits = []
    for placed, result in picture.power.splits:
        if result.code not in ("note", "call"):
            continue
        text = sentences(*result.reasons)
        evidence = (flight_evidence(placed.run.root, "both engines"),)
        numbers = {"worst_pct": result.worst_pct, "minutes_over": result.minutes_over_call}
        severity = CALL if result.code == "call" else NOTE
        hits.append(Hit(str(placed.run.root), severity, text, EVEN_SOURCE, placed.run.at, numbers, evidence))
    return answer(hits, "Both engines ran at even power where both were noted.")
