"""E-rules: fuel flow, heat, pressure, the pilot's words, ground minutes. All answer at once when a flight is logged.

The lines are the type's own; where they come from stands with each finding. The shares, hours and minutes are common
practice without a published source, and the plan may change them.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from typing import Any

from breakin.picture.heat import HIGH_SHARE, HeatRow, watch_line_degf
from breakin.picture.picture import Picture
from breakin.record import BlockFacts, RunFacts
from breakin.rules.base import CALL, NOTE, STAND, STOP, WATCH, Answer, Hit, answer, flight_evidence, rule

EARLY_H = 3.0
CRUISE_AFTER_H = 5.0
CRUISE_DEGF = 400.0
GROUND_UNTIL_H = 5.0
COOL_OIL_DEGF = 140.0
COOL_OIL_AFTER_H = 1.0
CALL_CHIPS = {
    "rough": "rough running",
    "smoke": "smoke",
    "smell": "a smell of fuel or burning",
    "oil_seen": "oil seen from the cockpit",
}


def _type_source(picture: Picture) -> str:
    return f"engine type {picture.record.type.name}: {picture.record.type.source}"[:200]


@rule(
    "E1",
    version=1,
    needs=("flight", "fuel flow"),
    severity="call; stop when more than 2 % low",
    title="Full-throttle fuel flow",
    text="Full-throttle fuel flow cools the heads. More than 2 % under the type's band stops the plan until the fuel "
    "set-up has been checked; 0 to 2 % under it, or more than 5 % over it, asks for a call before the next flight.",
    safety=True,
)
def fuel_flow(picture: Picture) -> Answer:
    if picture.record.type.takeoff_ff_low_gph is None:
        return Answer("not applicable", "The type has no band of full-throttle fuel flow.")
    return answer(_fuel_flow(picture), "Full-throttle fuel flow lay within the band on every flight that noted it.")


def _fuel_flow(picture: Picture) -> Iterator[Hit]:
    kind = picture.record.type
    low, high = kind.takeoff_ff_low_gph or 0.0, kind.takeoff_ff_high_gph
    band = f"{low:.1f} to {high:.1f} gal/h" if high is not None else f"at least {low:.1f} gal/h"
    for row in picture.heat:
        fuel, run = row.fuel, row.placed.run
        if fuel.compared is None or fuel.raw is None or fuel.word == "in band":
            continue
        numbers = {"read_gph": fuel.raw, "compared_gph": round(fuel.compared, 2), "low_gph": low, "high_gph": high}
        shown = f"{fuel.compared:.1f} gal/h ({fuel.how}) against {band}"
        if fuel.word == "high":
            severity, title = CALL, "Full-throttle fuel flow high"
            text = f"Full-throttle fuel flow {shown}: more than {HIGH_SHARE:.0%} over. Plugs may foul; call first."
        elif fuel.word == "low" and (fuel.surely or _heads_agree(picture, row)):
            severity, title = STOP, "Full-throttle fuel flow low"
            text = f"Full-throttle fuel flow {shown}: {fuel.short:.1%} low. Check the fuel set-up. {STAND}"
        else:
            severity, title = CALL, "Full-throttle fuel flow low"
            text = f"Full-throttle fuel flow {shown}: {fuel.short:.1%} low. Call before the next flight."
        evidence = (flight_evidence(run.root, f"{fuel.raw:.1f} gal/h at full throttle"),)
        yield Hit(str(run.root), severity, text, _type_source(picture), run.at, numbers, evidence, title)


def _heads_agree(picture: Picture, row: HeatRow) -> bool:
    """Are the heads hot as well, as they would be with too little fuel?"""
    cht = row.placed.run.cht_max_degf
    return row.falling == "no" or (cht is not None and cht > watch_line_degf(picture.record))


@rule(
    "E2",
    version=1,
    needs=("flight", "heads"),
    severity="note, watch, call; stop over the maker's limit",
    title="Head temperature",
    text="Any head over the maker's limit, for any time, is a Stop. Over the watch line for more than 5 min in the "
    "climb or 2 min in level flight asks for a call. Up to 420 °F is expected in the first 3 h. Over 400 °F in level "
    "cruise after 5 h is watched; the second time asks for a call.",
    safety=True,
)
def head_temperature(picture: Picture) -> Answer:
    return answer(_heads(picture), "No head went over the watch line on the flights that noted it.")


def _head_hit(
    run: RunFacts,
    source: str,
    numbers: dict[str, Any],
    evidence: tuple[dict[str, str], ...],
    suffix: str,
    severity: int,
    title: str,
    text: str,
) -> Hit:
    return Hit(f"{run.root}{suffix}", severity, text, source, run.at, numbers, evidence, title)


def _heads(picture: Picture) -> Iterator[Hit]:
    kind, watch = picture.record.type, watch_line_degf(picture.record)
    cruises = 0
    for row in picture.heat:
        placed, run = row.placed, row.placed.run
        cht = run.cht_max_degf
        numbers = {"cht_max_degf": cht, "watch_degf": watch, "limit_degf": kind.cht_limit_degf}
        evidence = (
            flight_evidence(run.root, f"hottest head {cht:.0f} °F" if cht is not None else "over the watch line"),
        )
        source = _type_source(picture)

        hit = partial(_head_hit, run, source, numbers, evidence)

        if cht is not None and kind.cht_limit_degf is not None and cht > kind.cht_limit_degf:
            yield hit(
                "",
                STOP,
                "Head over the maker's limit",
                f"A head reached {cht:.0f} °F, over the maker's limit of {kind.cht_limit_degf:.0f} °F. {STAND}",
            )
        elif run.cht_over_watch == "longer" or _minutes_over(placed.run.blocks, watch) > 2:
            reached = f"up to {cht:.0f} °F, " if cht is not None else ""
            text = (
                f"Heads stayed over the watch line of {watch:.0f} °F too long ({reached}longer than 5 min in the climb "
            )
            yield hit("", CALL, "Heads over the watch line", text + "or 2 min level). Call before the next flight.")
        elif cht is not None and cht > watch:
            asked = "under 5 min" if run.cht_over_watch == "under_5" else "for how long is not noted"
            severity = NOTE if run.cht_over_watch == "under_5" else WATCH
            text = f"The hottest head reached {cht:.0f} °F, over the watch line of {watch:.0f} °F, {asked}."
            yield hit("", severity, "Head over the watch line", text)
        elif cht is not None and cht > CRUISE_DEGF and placed.start_h < EARLY_H:
            text = f"{cht:.0f} °F in the first {EARLY_H:.0f} h is expected early with new rings. Keep the power up."
            yield hit("", NOTE, "Warm heads, expected early", text)
        cruise = _cruise_degf(row)
        if placed.start_h >= CRUISE_AFTER_H and cruise is not None and cruise > CRUISE_DEGF:
            cruises += 1
            severity = CALL if cruises >= 2 else WATCH
            often = ", not for the first time" if cruises >= 2 else ""
            text = f"{cruise:.0f} °F in level cruise after {CRUISE_AFTER_H:.0f} h{often}; line: {CRUISE_DEGF:.0f} °F."
            yield hit(":cruise", severity, "Warm heads in cruise", text)


def _minutes_over(blocks: tuple[BlockFacts, ...], line: float) -> float:
    return sum(block.duration_min for block in blocks if block.cht_max_degf is not None and block.cht_max_degf > line)


def _cruise_degf(row: HeatRow) -> float | None:
    run = row.placed.run
    known = [run.cht_cruise_mean_degf, *(block.cht_max_degf for block in run.blocks)]
    return max((value for value in known if value is not None), default=None)


@rule(
    "E3",
    version=1,
    needs=("flight", "climb"),
    severity="call; stop when also over the watch line",
    title="Heads coming down in the climb",
    text="Head temperature is to come down by about 3,000 ft above the field. If not, call before the next flight; "
    "over the watch line as well, it is a Stop.",
    safety=True,
)
def heads_falling(picture: Picture) -> Answer:
    return answer(_not_falling(picture), "Heads came down by 3,000 ft on every flight that noted it.")


def _not_falling(picture: Picture) -> Iterator[Hit]:
    watch = watch_line_degf(picture.record)
    for row in picture.heat:
        run = row.placed.run
        if row.falling != "no":
            continue
        at_top: list[float | None] = [cht for ft, cht in run.climb_cht_degf if ft >= 3000]
        hottest = max((cht for cht in at_top or [run.cht_max_degf] if cht is not None), default=None)
        shown = f"{hottest:.0f} °F" if hottest is not None else "temperature not noted"
        over = hottest is not None and hottest > watch
        text = f"Heads were not coming down by 3,000 ft above the field ({shown}; watch line {watch:.0f} °F). " + (
            f"Look at baffles, cowl flaps, fuel flow and timing. {STAND}" if over else "Call before the next flight."
        )
        numbers = {"cht_at_3000_degf": hottest, "watch_degf": watch}
        evidence = (flight_evidence(run.root, f"climb: {shown}"),)
        severity = STOP if over else CALL
        yield Hit(
            str(run.root),
            severity,
            text,
            _type_source(picture),
            run.at,
            numbers,
            evidence,
            "Hot at the top of the climb",
        )


@rule(
    "E5",
    version=1,
    needs=("run", "oil pressure or temperature"),
    severity="stop; watch for cool oil",
    title="Oil pressure and temperature",
    text="Oil pressure under the minimum in flight or at hot idle, or oil over its highest temperature, is a Stop. Oil "
    "that never gets over 140 °F after the first hour is watched: water stays in it.",
    safety=True,
)
def oil_pressure(picture: Picture) -> Answer:
    return answer(_oil_pressure(picture), "Oil pressure and temperature lay within their limits where they were noted.")


def _oil_pressure(picture: Picture) -> Iterator[Hit]:
    kind = picture.record.type
    for placed in picture.clock.runs:
        run = placed.run
        checks = (
            ("pressure", "Oil pressure in flight", run.oil_press_min_psi, kind.oil_press_min_psi, "psi", -1),
            ("idle", "Oil pressure at hot idle", run.oil_press_idle_psi, kind.oil_press_idle_min_psi, "psi", -1),
            ("temperature", "Oil temperature", run.oil_temp_max_degf, kind.oil_temp_max_degf, "°F", 1),
        )
        for name, what, value, line, unit, side in checks:
            if value is None or line is None or (value - line) * side <= 0:
                continue
            beyond = "under its minimum" if side < 0 else "over its maximum"
            text = f"{what} was {value:.0f} {unit}, {beyond} of {line:.0f} {unit}. {STAND}"
            evidence = (flight_evidence(run.root, f"{what.lower()} {value:.0f} {unit}"),)
            numbers = {"value": value, "line": line, "unit": unit}
            yield Hit(
                f"{run.root}:{name}", STOP, text, _type_source(picture), run.at, numbers, evidence, f"{what} {beyond}"
            )
        cool = run.oil_temp_max_degf
        if run.is_flight and cool is not None and cool <= COOL_OIL_DEGF and placed.end_h > COOL_OIL_AFTER_H:
            text = f"Oil never got over {COOL_OIL_DEGF:.0f} °F ({cool:.0f} °F): water stays in it. Winter kit?"
            evidence = (flight_evidence(run.root, f"oil {cool:.0f} °F at most"),)
            source = "common practice, no published source"
            yield Hit(f"{run.root}:cool", WATCH, text, source, run.at, {"value": cool}, evidence, "Cool oil")


@rule(
    "E6",
    version=1,
    needs=("run", "words"),
    severity="call; stop for low power on take-off",
    title="The pilot's words",
    text="Rough running, smoke, a smell of fuel or burning, or oil seen asks for a call today. Low power on take-off "
    "is a Stop.",
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
            if chip == "low_power":
                text = (
                    "Low power on take-off was noted. Do not fly until a technician has found the cause and cleared it."
                )
                evidence = (flight_evidence(run.root, "low power on take-off"),)
                yield Hit(f"{run.root}:{chip}", STOP, text, source, run.at, {}, evidence, "Low power on take-off")
            elif chip in CALL_CHIPS:
                words = CALL_CHIPS[chip]
                text = f"The pilot noted {words}. Call today and ask when, how long and at what power."
                evidence = (flight_evidence(run.root, words),)
                yield Hit(f"{run.root}:{chip}", CALL, text, source, run.at, {}, evidence, f"Noted: {words}")


@rule(
    "E7",
    version=1,
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
        longest = max(run.sessions_min, default=0.0)
        if placed.start_h >= GROUND_UNTIL_H or longest <= plan.ground_note_min:
            continue
        long = longest > plan.ground_call_min
        line = plan.ground_call_min if long else plan.ground_note_min
        who = "" if run.is_flight else " in a ground run"
        text = f"{longest:.0f} min on the ground in one session{who} at {placed.start_h:.1f} h; line: {line:.0f} min."
        evidence = (flight_evidence(run.root, f"{longest:.0f} min on the ground"),)
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
