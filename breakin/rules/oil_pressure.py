"""E5 to E7: oil pressure and temperature, the pilot's words, minutes on the ground. They answer at once.

Limits are the type's, minutes on the ground the plan's; the rest is common practice without a published source.
"""

from __future__ import annotations

from collections.abc import Iterator

from breakin.picture.picture import Picture
from breakin.picture.recorded import oil_pressure, oil_pressure_idle, oil_temperature, sessions_min
from breakin.rules.base import CALL, NOTE, STAND, STOP, WATCH, Answer, Hit, answer, flight_evidence, rule, type_source

GROUND_UNTIL_H = 5.0
COOL_OIL_DEGF = 140.0
COOL_OIL_AFTER_H = 1.0
CALL_CHIPS = {
    "rough": "rough running",
    "smoke": "smoke",
    "smell": "a smell of fuel or burning",
    "oil_seen": "oil seen from the cockpit",
}
STOP_CHIPS = {
    "low_power": "Low power on take-off",
    "windscreen": "Oil on the windscreen",
    "strike": "A propeller strike or sudden stop",
}


@rule(
    "E5",
    version=2,
    needs=("run", "oil pressure or temperature"),
    severity="stop; watch for cool oil",
    title="Oil pressure and temperature",
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
            ("pressure", "Oil pressure in flight", oil_pressure(run), kind.oil_press_min_psi, "psi", -1),
            ("idle", "Oil pressure at hot idle", oil_pressure_idle(run), kind.oil_press_idle_min_psi, "psi", -1),
            ("temperature", "Oil temperature", oil_temperature(run), kind.oil_temp_max_degf, "°F", 1),
        )
        for name, what, told, line, unit, side in checks:
            value = told.lowest if side < 0 else told.highest
            if value is None or line is None or (value - line) * side <= 0:
                continue
            beyond = "under its minimum" if side < 0 else "over its maximum"
            shown = told.words(unit) if told.recorded is not None else f"{value:.0f} {unit}"
            text = f"{what} was {shown}, {beyond} of {line:.0f} {unit}. {STAND}"
            evidence = (flight_evidence(run.root, f"{what.lower()} {value:.0f} {unit}"),)
            numbers = {"value": value, "line": line, "unit": unit}
            yield Hit(
                f"{run.root}:{name}", STOP, text, type_source(picture), run.at, numbers, evidence, f"{what} {beyond}"
            )
        cool = oil_temperature(run).value
        if run.is_flight and cool is not None and cool <= COOL_OIL_DEGF and placed.end_h > COOL_OIL_AFTER_H:
            text = f"Oil never got over {COOL_OIL_DEGF:.0f} °F ({cool:.0f} °F): water stays in it. Winter kit?"
            evidence = (flight_evidence(run.root, f"oil {cool:.0f} °F at most"),)
            source = "common practice, no published source"
            yield Hit(f"{run.root}:cool", WATCH, text, source, run.at, {"value": cool}, evidence, "Cool oil")


@rule(
    "E6",
    version=2,
    needs=("run", "words"),
    severity="call; stop for low power on take-off, oil on the windscreen, a propeller strike",
    title="The pilot's words",
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
                words = STOP_CHIPS[chip]
                evidence = (flight_evidence(run.root, words.lower()),)
                text = f"{words} was noted. {STAND}"
                yield Hit(f"{run.root}:{chip}", STOP, text, source, run.at, {}, evidence, words)
            elif chip in CALL_CHIPS:
                words = CALL_CHIPS[chip]
                text = f"The pilot noted {words}. Call today and ask when, how long and at what power."
                evidence = (flight_evidence(run.root, words),)
                yield Hit(f"{run.root}:{chip}", CALL, text, source, run.at, {}, evidence, f"Noted: {words}")


@rule(
    "E7",
    version=2,
    needs=("run", "ground minutes", "plan"),
    severity="note; call when long",
    title="Ground minutes",
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
        who = "" if run.is_flight else " in a ground run"
        shown = f"{longest:.0f}" if longest.is_integer() else f"{longest:.1f}"
        text = f"{shown} min on the ground in one session{who} at {placed.start_h:.1f} h; line: {line:.0f} min."
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
            "Long on the ground",
        )
