"""E1 to E4: take-off fuel flow and the temperature of the heads. All answer at once when a flight is logged.

The lines are the type's own; where they come from stands with each finding. The shares, hours and minutes are common
practice without a published source, and the plan may change them.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import partial
from statistics import median
from typing import Any

from breakin.calc.said import (
    ENGLISH,
    US,
    Said,
    Value,
    Values,
    ddegf,
    degf,
    fixed,
    gph,
    joined,
    percent,
    said,
    sentences,
)
from breakin.picture.heat import HIGH_SHARE, HeatRow, head_in_climb_degf, watch_line_degf
from breakin.picture.picture import Picture
from breakin.picture.recorded import cruise_head_degf, engine_of
from breakin.record import BlockFacts, RunFacts
from breakin.rules.base import CALL, NOTE, STAND, STOP, WATCH, Answer, Hit, answer, flight_evidence, rule, type_source

EARLY_H = 3.0
CRUISE_AFTER_H = 5.0
CRUISE_DEGF = 400.0
CLIMB_MIN, LEVEL_MIN = 5.0, 2.0
HOT_OVER_MATES_DEGF, HOT_DEGF, NEW_DEGF = 50.0, 400.0, 30.0
# A head's own history is told from at least this many earlier flights: own choice.
HISTORY_FLIGHTS = 2
CALL_FIRST = said("Call before the next flight.")


@rule(
    "E1",
    version=2,
    needs=("flight", "fuel flow"),
    severity="call; stop when more than 2 % low",
    title=said("Full-throttle fuel flow"),
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
    band = (
        said("{low} to {high}", low=gph(low, bare=True), high=gph(high))
        if high is not None
        else said("at least {low}", low=gph(low))
    )
    for row in picture.heat:
        fuel, run = row.fuel, row.placed.run
        if fuel.compared is None or fuel.raw is None or fuel.word == "in band":
            continue
        numbers = {"read_gph": fuel.raw, "compared_gph": round(fuel.compared, 2), "low_gph": low, "high_gph": high}
        told: Values = {"flow": gph(fuel.compared), "how": fuel.how, "band": band}
        if fuel.word == "high":
            severity, title = CALL, said("Full-throttle fuel flow high")
            text = said(
                "Full-throttle fuel flow {flow} ({how}) against {band}: more than {share} over. Plugs may foul; call "
                "first.",
                share=percent(HIGH_SHARE),
                **told,
            )
        else:
            severity, title = CALL, said("Full-throttle fuel flow low")
            text = said(
                "Full-throttle fuel flow {flow} ({how}) against {band}: {short} low.",
                short=percent(fuel.short, 1),
                **told,
            )
            if fuel.word == "low" and (fuel.surely or _heads_agree(picture, row)):
                severity, text = STOP, sentences(text, said("Check the fuel set-up."), STAND)
            else:
                text = sentences(text, CALL_FIRST)
        evidence = (flight_evidence(run.root, f"{fuel.raw:.1f} gal/h at full throttle"),)
        yield Hit(str(run.root), severity, text, type_source(picture), run.at, numbers, evidence, title)


def _heads_agree(picture: Picture, row: HeatRow) -> bool:
    """Are the heads hot as well, as they would be with too little fuel?"""
    cht = row.hottest.highest
    return row.falling == "no" or (cht is not None and cht > watch_line_degf(picture.record))


@rule(
    "E2",
    version=2,
    needs=("flight", "heads"),
    severity="note, watch, call; stop over the maker's limit",
    title=said("Head temperature"),
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
        cht, highest = row.hottest.value, row.hottest.highest
        shown: Value = row.hottest.words(degf) if row.hottest.recorded is not None else degf(cht or 0.0)
        numbers = {"cht_max_degf": cht, "watch_degf": watch, "limit_degf": kind.cht_limit_degf}
        evidence = (
            flight_evidence(run.root, f"hottest head {_english(shown)}" if cht is not None else "over the watch line"),
        )
        hit = partial(_head_hit, run, type_source(picture), numbers, evidence)
        # What either of the two saw over the maker's limit stands until a technician has looked.
        if highest is not None and kind.cht_limit_degf is not None and highest > kind.cht_limit_degf:
            yield hit(
                "",
                STOP,
                said("Head over the maker's limit"),
                sentences(
                    said(
                        "A head reached {shown}, over the maker's limit of {limit}.",
                        shown=shown,
                        limit=degf(kind.cht_limit_degf),
                    ),
                    STAND,
                ),
            )
        elif long := _too_long(run, watch):
            told: Values = {"line": degf(watch), "long": long}
            text = (
                said(
                    "Heads stayed over the watch line of {line} too long (up to {shown}, {long}).", shown=shown, **told
                )
                if cht is not None
                else said("Heads stayed over the watch line of {line} too long ({long}).", **told)
            )
            yield hit("", CALL, said("Heads over the watch line"), sentences(text, CALL_FIRST))
        elif cht is not None and cht > watch:
            asked, severity = _how_long(run)
            text = said(
                "The hottest head reached {shown}, over the watch line of {line}, {how_long}.",
                shown=shown,
                line=degf(watch),
                how_long=asked,
            )
            yield hit("", severity, said("Head over the watch line"), text)
        elif cht is not None and cht > CRUISE_DEGF and placed.start_h < EARLY_H:
            text = said(
                "{shown} in the first {hours} h is expected early with new rings. Keep the power up.",
                shown=shown,
                hours=fixed(EARLY_H, 0),
            )
            yield hit("", NOTE, said("Warm heads, expected early"), text)
        cruise = cruise_head_degf(run)
        if placed.start_h >= CRUISE_AFTER_H and cruise is not None and cruise > CRUISE_DEGF:
            cruises += 1
            severity = CALL if cruises >= 2 else WATCH
            at: Values = {"cruise": degf(cruise), "hours": fixed(CRUISE_AFTER_H, 0), "line": degf(CRUISE_DEGF)}
            text = (
                said("{cruise} in level cruise after {hours} h, not for the first time; line: {line}.", **at)
                if cruises >= 2
                else said("{cruise} in level cruise after {hours} h; line: {line}.", **at)
            )
            yield hit(":cruise", severity, said("Warm heads in cruise"), text)


def _english(shown: Value) -> str:
    """A value in the words of the book."""
    return str(shown) if isinstance(shown, str) else shown.text(US, ENGLISH)


def _minutes_over(run: RunFacts) -> tuple[float | None, float | None]:
    """Longest recorded minutes over the watch line in the climb and level; None where nobody recorded it."""
    engine = engine_of(run)
    return (engine.cht_over_watch_climb_min, engine.cht_over_watch_level_min) if engine else (None, None)


def _too_long(run: RunFacts, watch: float) -> Said | None:
    """In words when heads stayed over the watch line for too long, by the recording, else as the pilot said it."""
    climb, level = _minutes_over(run)
    if climb is not None or level is not None:
        over = []
        if (climb or 0.0) > CLIMB_MIN:
            over.append(
                said(
                    "{minutes} min in the climb, line {line} min", minutes=fixed(climb or 0.0), line=fixed(CLIMB_MIN, 0)
                )
            )
        if (level or 0.0) > LEVEL_MIN:
            over.append(
                said("{minutes} min level, line {line} min", minutes=fixed(level or 0.0), line=fixed(LEVEL_MIN, 0))
            )
        return joined(over, ", ") if over else None
    if run.cht_over_watch == "longer" or _block_minutes_over(run.blocks, watch) > LEVEL_MIN:
        return said(
            "longer than {climb} min in the climb or {level} min level",
            climb=fixed(CLIMB_MIN, 0),
            level=fixed(LEVEL_MIN, 0),
        )
    return None


def _how_long(run: RunFacts) -> tuple[Said, int]:
    """For how long heads were over the watch line, not too long: in words, and how grave that is."""
    known = [minutes for minutes in _minutes_over(run) if minutes is not None]
    if known:
        return said("for {minutes} min by the recording", minutes=fixed(max(known))), NOTE
    if run.cht_over_watch == "under_5":
        return said("under {minutes} min", minutes=fixed(CLIMB_MIN, 0)), NOTE
    return said("for how long is not noted"), WATCH


def _block_minutes_over(blocks: tuple[BlockFacts, ...], line: float) -> float:
    return sum(block.duration_min for block in blocks if block.cht_max_degf is not None and block.cht_max_degf > line)


@rule(
    "E3",
    version=2,
    needs=("flight", "climb"),
    severity="call; stop when also over the watch line",
    title=said("Heads coming down in the climb"),
    text="Head temperature is to come down by about 3,000 ft above the field. If not, call before the next flight; "
    "over the watch line as well, it is a Stop. Recorded and no more than 400 °F, it is noted.",
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
        hottest = head_in_climb_degf(row.placed)
        shown: Value = degf(hottest) if hottest is not None else said("temperature not noted")
        over = hottest is not None and hottest > watch
        # Heads that are still warming and not yet warm: a recording sees that, a pilot has no reason to note it.
        cool = run.cht_falling_by_3000 != "no" and hottest is not None and hottest <= CRUISE_DEGF
        text = said(
            "Heads were not coming down by 3,000 ft above the field ({shown}; watch line {line}).",
            shown=shown,
            line=degf(watch),
        )
        if over:
            text = sentences(text, said("Look at baffles, cowl flaps, fuel flow and timing."), STAND)
        else:
            text = sentences(text, said("They were still warming up.") if cool else CALL_FIRST)
        numbers = {"cht_at_3000_degf": hottest, "watch_degf": watch}
        evidence = (flight_evidence(run.root, f"climb: {_english(shown)}"),)
        severity = STOP if over else NOTE if cool else CALL
        yield Hit(
            str(run.root),
            severity,
            text,
            type_source(picture),
            run.at,
            numbers,
            evidence,
            said("Hot at the top of the climb"),
        )


@rule(
    "E4",
    version=1,
    needs=("flight", "each head"),
    severity="watch; call when it is new",
    title=said("One hot cylinder"),
    text="One head more than 50 °F hotter than its mates and over 400 °F in level cruise is watched; when that is more "
    "than 30 °F beyond its own history, it asks for a call. Differences of exhaust gas temperature say nothing alone.",
    safety=True,
)
def hot_cylinder(picture: Picture) -> Answer:
    return answer(_hot_cylinders(picture), "No head ran far hotter than its mates in level cruise on recorded flights.")


def _hot_cylinders(picture: Picture) -> Iterator[Hit]:
    before: dict[int, list[float]] = {}
    for row in picture.heat:
        run, engine = row.placed.run, engine_of(row.placed.run)
        hot = engine.hot_cylinder if engine else None
        if hot is not None and hot[1] > HOT_OVER_MATES_DEGF and hot[2] > HOT_DEGF:
            number, over, cht = hot
            history = before.get(number, [])
            usual = median(history) if len(history) >= HISTORY_FLIGHTS else None
            new = usual is not None and over - usual > NEW_DEGF
            if usual is None:
                known = said("Its own history is too short to say whether that is new.")
            else:
                known = said(
                    "Before it was {usual} against them, median of {flights} flights.",
                    usual=ddegf(usual, signed=True),
                    flights=fixed(len(history), 0),
                )
            ran = said(
                "Cylinder {number} ran {over} hotter than its mates in level cruise, {cht}.",
                number=fixed(number, 0),
                over=ddegf(over),
                cht=degf(cht),
            )
            text = sentences(ran, known)
            if new:
                text = sentences(text, said("Call before the next flight: injector, intake leak, baffle, probe."))
            numbers = {"cylinder": number, "over_mates_degf": over, "cht_degf": cht, "usual_degf": usual}
            evidence = (flight_evidence(run.root, f"cylinder {number}, {cht:.0f} °F"),)
            yield Hit(
                f"{run.root}:{number}",
                CALL if new else WATCH,
                text,
                "common practice, no published source",
                run.at,
                numbers,
                evidence,
                said("Cylinder {number} hot", number=fixed(number, 0)),
            )
        for number, over in row.excess_degf.items():
            before.setdefault(number, []).append(over)
