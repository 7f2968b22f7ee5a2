"""E5 to E7: oil pressure and temperature, the pilot's words, minutes on the ground. They answer at once.

Limits are the type's, minutes on the ground the plan's; the rest is common practice without a published source.
"""

from __future__ import annotations

from collections.abc import Callable, Iterator

from breakin.calc.said import Said, Value, Values, degf, fixed, msgid, psi, said, sentences
from breakin.picture.picture import Picture
from breakin.picture.recorded import oil_pressure, oil_pressure_idle, oil_temperature, sessions_min
from breakin.rules.base import CALL, NOTE, STAND, STOP, WATCH, Answer, Hit, answer, flight_evidence, rule, type_source

GROUND_UNTIL_H = 5.0
COOL_OIL_DEGF = 140.0
COOL_OIL_AFTER_H = 1.0
CALL_CHIPS = {
    "rough": (said("Noted: rough running"), said("The pilot noted rough running.")),
    "smoke": (said("Noted: smoke"), said("The pilot noted smoke.")),
    "smell": (said("Noted: a smell of fuel or burning"), said("The pilot noted a smell of fuel or burning.")),
    "oil_seen": (said("Noted: oil seen from the cockpit"), said("The pilot noted oil seen from the cockpit.")),
}
STOP_CHIPS = {
    "low_power": (said("Low power on take-off"), said("Low power on take-off was noted.")),
    "windscreen": (said("Oil on the windscreen"), said("Oil on the windscreen was noted.")),
    "strike": (said("A propeller strike or sudden stop"), said("A propeller strike or sudden stop was noted.")),
}


# Name -> its words in the evidence, title, sentence, how it is shown, unit, and which side of the line is wrong.
_LIMITS: dict[str, tuple[str, Said, str, Callable[[float], Value], str, int]] = {
    "pressure": (
        "oil pressure in flight",
        said("Oil pressure in flight under its minimum"),
        msgid("Oil pressure in flight was {shown}, under its minimum of {line}."),
        psi,
        "psi",
        -1,
    ),
    "idle": (
        "oil pressure at hot idle",
        said("Oil pressure at hot idle under its minimum"),
        msgid("Oil pressure at hot idle was {shown}, under its minimum of {line}."),
        psi,
        "psi",
        -1,
    ),
    "temperature": (
        "oil temperature",
        said("Oil temperature over its maximum"),
        msgid("Oil temperature was {shown}, over its maximum of {line}."),
        degf,
        "°F",
        1,
    ),
}


@rule(
    "E5",
    version=2,
    needs=("run", "oil pressure or temperature"),
    severity="stop; watch for cool oil",
    title=said("Oil pressure and temperature"),
    text="Oil pressure under the minimum in flight or at hot idle, or oil over its highest temperature, is a Stop. Oil "
    "that never gets over 140 °F after the first hour is watched: water stays in it.",
    safety=True,
)
def oil_limits(picture: Picture) -> Answer:
    return answer(_oil(picture), "Oil pressure and temperature lay within their limits where they were noted.")


def _oil(picture: Picture) -> Iterator[Hit]:
    kind = picture.record.type
    for placed in picture.clock.runs:
        run = placed.run
        checks = (
            ("pressure", oil_pressure(run), kind.oil_press_min_psi),
            ("idle", oil_pressure_idle(run), kind.oil_press_idle_min_psi),
            ("temperature", oil_temperature(run), kind.oil_temp_max_degf),
        )
        for name, told, line in checks:
            what, title, sentence, measure, unit, side = _LIMITS[name]
            value = told.lowest if side < 0 else told.highest
            if value is None or line is None or (value - line) * side <= 0:
                continue
            shown: Value = told.words(measure) if told.recorded is not None else measure(value)
            text = sentences(Said(sentence, {"shown": shown, "line": measure(line)}), STAND)
            evidence = (flight_evidence(run.root, f"{what} {value:.0f} {unit}"),)
            numbers = {"value": value, "line": line, "unit": unit}
            yield Hit(f"{run.root}:{name}", STOP, text, type_source(picture), run.at, numbers, evidence, title)
        cool = oil_temperature(run).value
        if run.is_flight and cool is not None and cool <= COOL_OIL_DEGF and placed.end_h > COOL_OIL_AFTER_H:
            told_cool: Values = {"line": degf(COOL_OIL_DEGF), "cool": degf(cool)}
            seat = picture.record.installation_at(run.at)
            text = (
                said("Oil never got over {line} ({cool}) with the winter kit on: water stays in it.", **told_cool)
                if seat is not None and seat.winter_kit
                else said("Oil never got over {line} ({cool}): water stays in it. Winter kit?", **told_cool)
            )
            evidence = (flight_evidence(run.root, f"oil {cool:.0f} °F at most"),)
            source = "common practice, no published source"
            yield Hit(f"{run.root}:cool", WATCH, text, source, run.at, {"value": cool}, evidence, said("Cool oil"))


@rule(
    "E6",
    version=2,
    needs=("run", "words"),
    severity="call; stop for low power on take-off, oil on the windscreen, a propeller strike",
    title=said("The pilot's words"),
    text="Rough running, smoke, a smell of fuel or burning, or oil seen asks for a call today. Low power on take-off, "
    "oil on the windscreen, and a propeller strike or sudden stop are Stops.",
    safety=True,
    judges_log_only=True,
)
def pilots_words(picture: Picture) -> Answer:
    return answer(_words(picture), "Nothing unusual was noted on the flights that were asked.")


def _words(picture: Picture) -> Iterator[Hit]:
    source = "the pilot's words; common practice, no published source"
    for placed in picture.clock.runs:
        run = placed.run
        for chip in run.chips:
            if chip in STOP_CHIPS:
                title, text = STOP_CHIPS[chip]
                evidence = (flight_evidence(run.root, title.lower()),)
                yield Hit(
                    f"{run.root}:{chip}", STOP, sentences(text, STAND), source, run.at, {}, evidence, title
                )  # fmt: skip
            elif chip in CALL_CHIPS:
                title, text = CALL_CHIPS[chip]
                text = sentences(text, said("Call today and ask when, how long and at what power."))
                evidence = (flight_evidence(run.root, title.removeprefix("Noted: ")),)
                yield Hit(f"{run.root}:{chip}", CALL, text, source, run.at, {}, evidence, title)


@rule(
    "E7",
    version=2,
    needs=("run", "ground minutes", "plan"),
    severity="note; call when long",
    title=said("Ground minutes"),
    text="New rings do not seat at idle: long ground running glazes bores. More than 10 min in one session in the "
    "first 5 h is noted, more than 20 min asks for a call. Ground runs by the shop count.",
    safety=True,
)
def ground_minutes(picture: Picture) -> Answer:
    return answer(_ground(picture), "No long session on the ground in the first 5 h.")


def _ground(picture: Picture) -> Iterator[Hit]:
    plan = picture.record.plan
    assert plan is not None  # noqa: S101 - the rule needs a plan
    for placed in picture.clock.runs:
        run = placed.run
        longest = float(max(sessions_min(run), default=0.0))
        if placed.start_h >= GROUND_UNTIL_H or longest <= plan.ground_note_min:
            continue
        long = longest > plan.ground_call_min
        line = plan.ground_call_min if long else plan.ground_note_min
        shown = f"{longest:.0f}" if longest.is_integer() else f"{longest:.1f}"
        told: Values = {
            "minutes": fixed(longest, 0 if longest.is_integer() else 1),
            "hours": fixed(placed.start_h),
            "line": fixed(line, 0),
        }
        text = (
            said("{minutes} min on the ground in one session at {hours} h; line: {line} min.", **told)
            if run.is_flight
            else said(
                "{minutes} min on the ground in one session in a ground run at {hours} h; line: {line} min.", **told
            )
        )
        evidence = (flight_evidence(run.root, f"{shown} min on the ground"),)
        numbers = {"minutes": longest, "line_min": line, "total_min": picture.clock.ground_min}
        yield Hit(
            str(run.root),
            CALL if long else NOTE,
            text,
            plan.name[:200],
            run.at,
            numbers,
            evidence,
            said("Long on the ground"),
        )
