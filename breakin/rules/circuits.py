"""P9: circuits on fresh rings."""

from __future__ import annotations

from collections.abc import Iterator

from breakin.calc.said import Values, fixed, said, sentences
from breakin.picture.clock import PlacedRun
from breakin.picture.picture import Picture
from breakin.picture.recorded import engine_of
from breakin.rules.base import CALL, NOTE, Answer, Hit, answer, flight_evidence, rule
from breakin.rules.power import LIGHT_CALL_MIN, light_minutes

UNTIL_H = 5.0
FEW_LANDINGS = 2
PRACTICE = "common practice, no published source"


def landings_of(placed: PlacedRun) -> int | None:
    """Landings of a flight: what was typed, or recorded, whichever is more; None when neither tells."""
    run = placed.run
    told = [run.landings, run.recorded.landings if run.recorded else None]
    return max((number for number in told if number is not None), default=None)


@rule(
    "P9",
    version=1,
    needs=("landings",),
    severity="note; call when light",
    title=said("Circuits"),
    text="Circuits are little power, much idling and quick cooling: more than two landings on one flight in the first "
    "5 h are noted; with more than 10 min of light running on that flight, somebody calls.",
)
def circuits(picture: Picture) -> Answer:
    return answer(_circuits(picture), "No flight of the first 5 h had more than two landings.")


def _light(picture: Picture, placed: PlacedRun) -> float:
    """Light minutes of the flight: as recorded, second by second, since each circuit mixes much power with little."""
    told = engine_of(placed.run)
    span = told.minutes.get("light") if told else None
    return span.central if span else light_minutes(picture, placed.run.root)


def _circuits(picture: Picture) -> Iterator[Hit]:
    for placed in picture.clock.flights:
        landings = landings_of(placed)
        if placed.start_h >= UNTIL_H or landings is None or landings <= FEW_LANDINGS:
            continue
        run = placed.run
        light = _light(picture, placed)
        long = light > LIGHT_CALL_MIN
        told: Values = {"landings": fixed(landings, 0), "hours": fixed(placed.start_h)}
        text = sentences(
            said(
                "{landings} landings on one flight at {hours} h, {light} min of it light.",
                light=fixed(light, 0),
                **told,
            )
            if light
            else said("{landings} landings on one flight at {hours} h.", **told),
            said("Call: no circuits before 5 h.") if long else said("No more circuits before 5 h."),
        )
        evidence = (flight_evidence(run.root, f"{landings} landings"),)
        numbers = {"landings": landings, "light_min": round(light, 1)}
        yield Hit(str(run.root), CALL if long else NOTE, text, PRACTICE, run.at, numbers, evidence, said("Circuits"))
