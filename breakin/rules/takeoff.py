"""E8 and E9: what the engine gave at full throttle, whether its instruments agree, and the early sign of seating.

The lines are common practice without a published source; full-throttle manifold pressure and rated rpm are the type's.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from breakin.calc.atmosphere import standard_pressure_inhg
from breakin.calc.errors import CalcError
from breakin.calc.inspection import UNDER_AMBIENT_INHG
from breakin.calc.recording.result import EngineFlight
from breakin.calc.said import Measure, Said, Values, ddegf, fixed, inhg, said, sentences
from breakin.calc.seating import SIGN_DEGF
from breakin.picture.clock import PlacedRun
from breakin.picture.picture import Picture
from breakin.picture.power import field_pressure_altitude_ft
from breakin.picture.recorded import engine_of, takeoff_manifold, takeoff_rpm
from breakin.rules.base import CALL, Answer, Asked, Hit, answer, flight_evidence, rule, type_source
from breakin.rules.power import in_doubt

OFF_SPEC_INHG = 1.0
UNDER_RATED_RPM = 50.0
APART_PIECES = 3
FIXED = "fixed"
NOTHING_OFF = Said("")


@rule(
    "E8",
    version=1,
    needs=("flight", "take-off settings"),
    severity="call",
    title=said("Full throttle, and instruments that agree"),
    text="At full throttle manifold pressure comes within 1.5 inHg of the air outside, or a boosted engine's within "
    "1 inHg of its setting, and rpm within 50 of rated. If not, call. Where power by chart and by fuel flow stand more "
    "than 8 % apart over three settings and no mixture explains it, an instrument check is due.",
    safety=True,
)
def full_throttle(picture: Picture) -> Answer:
    checks = [check for placed in picture.clock.flights for check in _checks(picture, placed)]
    asked = tuple(_instruments(picture))
    if not checks:
        why = "What was told of take-offs can't be judged: a fixed-pitch propeller, or the air outside is not known."
        return Answer("not observed", why, (), asked)
    hits = (_off(picture, check) for check in checks if check.off)
    return answer(hits, "Manifold pressure and rpm at take-off were as they should be.", asked=asked)


@dataclass(frozen=True)
class Check:
    """One figure of a take-off that could be judged. `off` : what is wrong with it, in words; "" for nothing."""

    placed: PlacedRun
    name: str
    title: str
    off: Said
    numbers: dict[str, float]


def _checks(picture: Picture, placed: PlacedRun) -> Iterator[Check]:
    found = (_manifold(picture, placed), _rpm(picture, placed))
    yield from (check for check in found if check is not None)


def _off(picture: Picture, check: Check) -> Hit:
    run = check.placed.run
    text = sentences(check.off, said("Call before the next flight: throttle travel, intake, governor, gauge."))
    evidence = (flight_evidence(run.root, check.off.partition(":")[0]),)
    key = f"{run.root}:{check.name}"
    return Hit(key, CALL, text, type_source(picture), run.at, check.numbers, evidence, check.title)


def _manifold(picture: Picture, placed: PlacedRun) -> Check | None:
    """Manifold pressure at full throttle against the air outside, or against a boosted engine's setting."""
    told = takeoff_manifold(placed.run)
    boosted = picture.record.type.induction != "natural"
    line = _spec_inhg(picture, placed) if boosted else _ambient_inhg(placed)
    if told.value is None or line is None:
        return None
    error = _map_error_inhg(picture, placed)
    shown = told.value - error
    words = told.words(inhg)
    if error:
        words = said("{pressure}, its error of {error} taken off", pressure=words, error=_signed_inhg(error))
    if boosted:
        off = abs(round(shown - line, 6)) > OFF_SPEC_INHG
        text = said(
            "Full-throttle manifold pressure {words}: its setting is {line} ± {doubt}.",
            words=words,
            line=inhg(line, bare=True),
            doubt=inhg(OFF_SPEC_INHG, 0),
        )
    else:
        off = round(line - shown, 6) > UNDER_AMBIENT_INHG
        text = said(
            "Full-throttle manifold pressure {words}: {under} under the air outside ({line}).",
            words=words,
            under=inhg(line - shown),
            line=inhg(line, bare=True),
        )
    numbers = {"map_inhg": round(shown, 2), "spec_inhg" if boosted else "ambient_inhg": round(line, 2)}
    return Check(placed, "manifold", said("Manifold pressure at take-off"), text if off else NOTHING_OFF, numbers)


def _signed_inhg(error: float) -> Measure:
    return inhg(error, bare=True, signed=True)


def _map_error_inhg(picture: Picture, placed: PlacedRun) -> float:
    """What the gauge reads too high [inHg]: as the recording saw it with the engine stopped, else as on file."""
    engine = engine_of(placed.run)
    if engine is not None and engine.takeoff.map_inhg is not None and engine.takeoff.static_map_error_inhg is not None:
        return engine.takeoff.static_map_error_inhg
    seat = picture.record.installation_at(placed.run.at)
    return seat.map_error_inhg if seat is not None else 0.0


def _ambient_inhg(placed: PlacedRun) -> float | None:
    """Pressure of the air at the field [inHg]; None when neither recorded nor to be had from what was typed."""
    engine = engine_of(placed.run)
    if engine is not None and engine.takeoff.ambient_inhg is not None:
        return engine.takeoff.ambient_inhg
    altitude = field_pressure_altitude_ft(placed)
    if altitude is None:
        return None
    try:
        return float(standard_pressure_inhg(altitude))
    except CalcError:
        return None


def _spec_inhg(picture: Picture, placed: PlacedRun) -> float | None:
    """Full-throttle manifold pressure of a boosted type at rated rpm, up to its critical altitude [inHg]."""
    kind, altitude = picture.record.type, field_pressure_altitude_ft(placed)
    chart = kind.chart
    if chart is None or not chart.full_throttle_map_inhg:
        return None
    if chart.critical_altitude_ft is not None and altitude is not None and altitude > chart.critical_altitude_ft:
        return None
    return float(np.interp(kind.rated_rpm, chart.full_throttle_rpm, chart.full_throttle_map_inhg))


def _rpm(picture: Picture, placed: PlacedRun) -> Check | None:
    """Rpm at full throttle. A fixed-pitch propeller holds an engine under rated rpm on the roll: not judged."""
    told, kind = takeoff_rpm(placed.run), picture.record.type
    seat = picture.record.installation_at(placed.run.at)
    if told.value is None or FIXED in (kind.prop_control, seat.prop_control if seat is not None else ""):
        return None
    shown = told.value - (seat.rpm_error if seat is not None else 0.0)
    off = round(kind.rated_rpm - shown, 6) > UNDER_RATED_RPM
    text = said(
        "Take-off rpm {words}: {under} under rated {rated}.",
        words=told.words(_rpm_words),
        under=fixed(kind.rated_rpm - shown, 0),
        rated=fixed(kind.rated_rpm, 0),
    )
    numbers = {"rpm": shown, "rated_rpm": kind.rated_rpm}
    return Check(placed, "rpm", said("Rpm at take-off low"), text if off else NOTHING_OFF, numbers)


def _rpm_words(rpm: float) -> Said:
    return said("{rpm} rpm", rpm=fixed(rpm, 0))


def _settings_apart(engine: EngineFlight) -> int:
    """Settings at which the two powers stood apart by more than the mixture explains.

    A rich mixture burns more than its power needs; only where the analysis finds no mixture that fits does the
    difference speak of an instrument. A sensor that was found wrong and put right speaks once a flight.
    """
    return max(engine.pieces_apart, 1) if engine.disagree else 0


def _instruments(picture: Picture) -> Iterator[Asked]:
    """An instrument check for each time that three settings have come together; a check starts the count anew."""
    checks = [one for one in picture.record.inspections if one.kind == "instruments"]
    pieces, shown, asked_until = 0, list[PlacedRun](), None
    for placed in picture.clock.flights:
        engine, run = engine_of(placed.run), placed.run
        apart = _settings_apart(engine) if engine is not None else 0
        if engine is None or not apart or (asked_until is not None and run.at < asked_until):
            continue
        done_since = any(shown and shown[-1].run.at < one.at <= run.at for one in checks)
        pieces, shown = (0, []) if done_since else (pieces, shown)
        pieces, shown = pieces + apart, [*shown, placed]
        if pieces < APART_PIECES:
            continue
        done = next((one for one in checks if one.at > run.at), None)
        yield Asked(
            occurrence=str(run.root),
            kind="instruments",
            title=said("Instrument check"),
            text=sentences(
                said("Power by chart and by fuel flow did not agree over {pieces} settings.", pieces=fixed(pieces, 0)),
                in_doubt(engine.suspect),
                said("Check manifold pressure, rpm and fuel flow against known ones."),
            ),
            state="done" if done else "due",
            opened_at=run.at,
            escalation="" if done else "chase",
            due_at=run.at,
            evidence=tuple(flight_evidence(one.run.root, "the two powers apart") for one in shown),
            closed_at=done.at if done else None,
            closed_by_kind="inspection" if done else "",
            closed_by_root=done.root if done else None,
        )
        if done is None:
            return
        pieces, shown, asked_until = 0, [], done.at


@rule(
    "E9",
    version=1,
    needs=("flight", "each head"),
    severity="none",
    title=said("Early sign of seating"),
    text="At equal power on a standard day the heads of new cylinders run cooler as their rings seat. A mean 20 °F "
    "down against the first hour is a good sign, never a proof: it closes nothing.",
)
def seating_sign(picture: Picture) -> Answer:
    seen = picture.seating
    if seen.sign is None or seen.change_degf is None or seen.sigma_degf is None:
        return Answer("not known", seen.why_not)
    down = -seen.change_degf
    told: Values = {"change": ddegf(abs(down), bare=True), "doubt": ddegf(seen.sigma_degf)}
    shown = (
        said("Mean of the disturbed heads down {change} ± {doubt} against the first hour, at equal power.", **told)
        if down >= 0
        else said("Mean of the disturbed heads up {change} ± {doubt} against the first hour, at equal power.", **told)
    )
    if seen.sign:
        return Answer("met", sentences(said("Rings seating, early sign."), shown))
    return Answer("not known", sentences(said("No sign yet; it shows from {line} down.", line=ddegf(SIGN_DEGF)), shown))
