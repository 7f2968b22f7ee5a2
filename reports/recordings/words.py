"""The sentences and tables of a recorded flight: what it shows, how sure that is, and how it compares with the log."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from breakin.calc.recording.result import EngineFlight, Piece, Span
from breakin.models import Flight, FlightEngine, RecordedFlight, RecordedKind
from reports.engine.tables import Table
from reports.quantities import NOT_KNOWN, minutes_text, quantity
from reports.recordings.panels import Lines

PLUS_MINUS = "\u202f±\u202f"
PERCENT = "\u202f%"
HOUR_MIN = 59.5  # from here on minutes are said in hours
SHORTEST_MIN = 1.0  # a piece that the table shows
_PHASES = {
    "takeoff": "take-off", "climb": "climb", "cruise": "cruise", "descent": "descent", "approach": "approach",
}  # fmt: skip
EVENT_WORDS = {
    "engine_start": "engine start", "liftoff": "lift-off", "cruise_start": "cruise", "descent_start": "descent",
    "touchdown": "touch-down", "shutdown": "shut-down",
}  # fmt: skip
_BANDS = (
    ("75", "In the 75 % band"),
    ("65", "In the 65 % band"),
    ("light", "Light running"),
    ("ground", "On the ground"),
)


def verdict(kind: str, engine: EngineFlight) -> str:
    """What the recording shows of one engine, in a sentence or two."""
    if kind == RecordedKind.GROUND_RUN:
        return f"A ground run of {minutes_text(engine.run_min)}. Nothing in it counts for a power band."
    if kind == RecordedKind.ABORTED:
        return f"The take-off was broken off. The engine ran for {minutes_text(engine.run_min)} on the ground."
    upper, lower, light = (engine.minutes.get(name) for name in ("75", "65", "light"))
    if upper is None or lower is None:
        return f"{minutes_text(engine.airborne_min)} in the air. Power could not be told: {_why_not(engine)}"
    said = [f"Of {minutes_text(engine.airborne_min)} in the air, {_counted(upper)} were at 75{PERCENT}"]
    said.append(f"{_counted(lower)} at 65{PERCENT}" if lower.most >= 0.5 else f"none at 65{PERCENT}")
    if light is not None and light.most >= 0.5:
        said.append(f"{_counted(light)} light")
    text = ", ".join(said[:-1]) + f" and {said[-1]}."
    changes = {0: "Power was not changed in between.", 1: "Power was changed once."}
    text += " " + changes.get(engine.changes, f"Power was changed {engine.changes} times.")
    return f"{text} Some minutes lie too close to the edge of a band to decide." if _undecided(engine) else text


def _why_not(engine: EngineFlight) -> str:
    return engine.notes[0] if engine.notes else "neither manifold pressure with rpm nor fuel flow was recorded."


def _undecided(engine: EngineFlight) -> bool:
    return any(piece.undecided for piece in engine.pieces)


def _counted(span: Span) -> str:
    """Minutes with what they may be: "52 min (49 to 55 min)"."""
    text, least, most = (minutes_text(each) for each in (span.central, span.least, span.most))
    if least == text == most:
        return text
    return f"{text} ({round(span.least)} to {most})" if span.most < HOUR_MIN else f"{text} ({least} to {most})"


def minutes_table(engine: EngineFlight) -> Table | None:
    """Minutes in each band: central value, and what they could be at least and at most."""
    rows = tuple(
        (words, minutes_text(span.central), _least_most(span))
        for name, words in _BANDS
        if (span := engine.minutes.get(name)) is not None
    )
    caption = "Minutes by the readings. Nine times in ten, or oftener, they lie from least to most."
    return Table(caption, ("Where", "Minutes", "At least and at most"), rows) if rows else None


def _least_most(span: Span) -> str:
    least, most = minutes_text(span.least), minutes_text(span.most)
    return "the same" if least == most else f"{least} to {most}"


def pieces_table(engine: EngineFlight, clock: Callable[[float], str], units: str) -> Table | None:
    """The pieces of the flight with their power, where it counts and what was read; steps of under a minute are left
    out. The way that power is known stands once in the caption where it is the same throughout.
    """
    shown = [piece for piece in engine.pieces if piece.minutes >= SHORTEST_MIN]
    ways = {piece.method for piece in shown if piece.pct is not None}
    rows = tuple(
        (
            f"{clock(piece.t0)} to {clock(piece.t1)}",
            minutes_text(piece.minutes),
            _PHASES.get(piece.phase, piece.phase) + (", steady" if piece.steady else ""),
            power_text(piece),
            _counts_as(piece),
            _readings(piece, units),
            *((piece.method or NOT_KNOWN,) if len(ways) > 1 else ()),
        )
        for piece in shown
    )
    heads = (
        "From and to",
        "For",
        "Part",
        "Power",
        "Counts as",
        "Read",
        *(("Power known by",) if len(ways) > 1 else ()),
    )
    caption = "The time in the air in pieces of one power, or between two. One standard deviation after ±."
    if len(ways) == 1:
        way = next(iter(ways))
        caption += f" {way[:1].upper()}{way[1:].rstrip('.')}." if way else ""
    left_out = len(engine.pieces) - len(shown)
    if left_out:
        minutes = sum(piece.minutes for piece in engine.pieces) - sum(piece.minutes for piece in shown)
        caption += f" Left out: {left_out} shorter than a minute, {minutes_text(minutes)} together."
    return Table(caption, heads, rows) if rows else None


def power_text(piece: Piece) -> str:
    if piece.pct is None:
        return NOT_KNOWN
    return f"{piece.pct:.0f}{PLUS_MINUS}{piece.sigma:.0f}{PERCENT}" if piece.sigma else f"{piece.pct:.0f}{PERCENT}"


def _counts_as(piece: Piece) -> str:
    if piece.pct is None:
        return NOT_KNOWN
    band = f"{piece.band}{PERCENT}" if piece.band else "neither band"
    return f"{band}, undecided" if piece.undecided else band


def _readings(piece: Piece, units: str) -> str:
    read = (
        (piece.map_inhg, "manifold"),
        (piece.rpm, "rpm"),
        (piece.fuel_flow_gph, "fuel_flow"),
        (piece.pressure_altitude_ft, "altitude"),
        (piece.oat_degf, "temperature"),
    )
    return ", ".join(quantity(value, kind, units) for value, kind in read if value is not None)


def compare_table(flight: Flight, typed: FlightEngine, recorded: EngineFlight, units: str) -> Table | None:
    """What was typed beside what was recorded. Neither overwrites the other."""
    rows = [row for row in _compared(flight, typed, recorded, units) if row[1] or row[2]]
    cells = tuple((words, one or "not typed", other or "not recorded", apart) for words, one, other, apart in rows)
    heads = ("What", f"Typed, grade {flight.grade}", "Recorded, grade A", "Apart")
    caption = "Typed and recorded side by side. What was typed stays as it is; the recording counts for power."
    return Table(caption, heads, cells) if cells else None


Row = tuple[str, str, str, str]


def _compared(flight: Flight, typed: FlightEngine, recorded: EngineFlight, units: str) -> Sequence[Row]:
    takeoff = recorded.takeoff

    def row(words: str, one: float | None, other: float | None, kind: str) -> Row:
        apart = "" if one is None or other is None else quantity(abs(one - other), _difference(kind), units)
        return words, _if_known(one, kind, units), _if_known(other, kind, units), apart

    rows = [
        row("In the air", flight.airborne_min, recorded.airborne_min, "minutes"),
        row("Ground running before", flight.ground_before_min, recorded.ground_before_min, "minutes"),
        row("Ground running after", flight.ground_after_min, recorded.ground_after_min, "minutes"),
        row("Full-throttle fuel flow", typed.takeoff_ff_gph, takeoff.fuel_flow_gph, "fuel_flow"),
        row("Full-throttle manifold pressure", typed.takeoff_map_inhg, takeoff.map_inhg, "manifold"),
        row("Full-throttle rpm", typed.takeoff_rpm, takeoff.rpm, "rpm"),
        row("Hottest head", typed.cht_max_degf, recorded.cht_max_degf, "temperature"),
        row("Highest oil temperature", typed.oil_temp_max_degf, recorded.oil_temp_max_degf, "temperature"),
        row("Lowest oil pressure in flight", typed.oil_press_min_psi, recorded.oil_press_min_psi, "oil_pressure"),
        row("Oil pressure at hot idle", typed.oil_press_idle_psi, recorded.oil_press_idle_psi, "oil_pressure"),
        row("Highest turbine inlet temperature", typed.tit_max_degf, recorded.tit_max_degf, "temperature"),
    ]
    told = {"yes": "yes", "no": "no"}
    falling = told.get(typed.cht_falling_by_3000, ""), told.get(recorded.cht_falling_by_3000, "")
    differ = "they disagree" if all(falling) and falling[0] != falling[1] else ""
    return [*rows, ("Heads falling by 3,000\u202fft", *falling, differ)]


def _difference(kind: str) -> str:
    return "difference" if kind == "temperature" else kind


def _if_known(value: float | None, kind: str, units: str) -> str:
    if value is None:
        return ""
    return minutes_text(value) if kind == "minutes" else quantity(value, kind, units)


def dated(recorded: RecordedFlight) -> str:
    """How the flight got its date, and what was done to the recorder's clock."""
    ways = {
        "file": "The date and time are the file's own.",
        "flight": "The file has no usable date: it is taken from the logged flight.",
        "person": "The date was typed by hand.",
        "unknown": "The file has no date, or a wrong one: times are those of the recorder's clock.",
    }
    said = ways.get(recorded.dated_by, "")
    shift = recorded.clock_shift_s
    if shift:
        said += f" The recorder's clock was moved by {shift_text(shift)}."
    return said


def shift_text(seconds: float) -> str:
    """A shift of a clock as people say it: "1 h earlier", "365 days later"."""
    size, way = abs(seconds), "later" if seconds > 0 else "earlier"
    if size >= 86400:
        days = size / 86400
        return f"{days:.0f} day{'' if round(days) == 1 else 's'} {way}"
    if size >= 3600:
        whole, rest = divmod(round(size / 60), 60)
        return f"{whole} h {rest:02d} min {way}" if rest else f"{whole} h {way}"
    return f"{size:.0f} s {way}" if size < 60 else f"{size / 60:.0f} min {way}"


def twin_sentence(split_pct: float | None, over_min: float | None) -> str:
    """How evenly the two engines ran."""
    if split_pct is None:
        return "Both engines were recorded; how evenly they ran in cruise could not be told."
    high = "left" if split_pct > 0 else "right"
    if abs(split_pct) < 0.5:
        said = "In cruise both engines ran at the same power to within half a percent."
    else:
        said = (
            f"In cruise the {high} engine ran {abs(split_pct):.1f}{PERCENT} of rated power above the other on average."
        )
    if over_min:
        said += f" They stood more than 6{PERCENT} apart for {minutes_text(over_min)}."
    return said


def power_caption(engines: Mapping[str, EngineFlight], lines: Mapping[str, Lines]) -> str:
    """What the picture shows, in sentences."""
    bands = next((each.bands for each in lines.values() if each.bands), None)
    said = ["Percent of rated power with one standard deviation around it."]
    if bands:
        told = " and ".join(f"{low:g} to {high:g}{PERCENT}" for _, (low, high) in sorted(bands.items(), reverse=True))
        said.append(
            f"Shaded across: the plan's bands, {told}. Broad strokes: pieces held steady for ten minutes or more."
        )
    hottest = [
        f"cylinder {engine.cht_max_cylinder}" + (f" ({'left' if side == '1' else 'right'})" if len(engines) > 1 else "")
        for side, engine in engines.items()
        if engine.cht_max_cylinder is not None
    ]
    if hottest:
        said.append(f"Of the cylinders the strong line is the hottest head, {' and '.join(hottest)}.")
    said.append("The numbers in boxes are those of the list below.")
    return " ".join(said)
