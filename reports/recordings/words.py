"""The sentences and tables of a recorded flight: what it shows, how sure that is, and how it compares with the log."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence

from django.utils.functional import Promise
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, ngettext, pgettext, pgettext_lazy

from breakin.calc.recording.result import EngineFlight, Piece, Span
from breakin.models import Flight, FlightEngine, RecordedFlight, RecordedKind
from reports.engine.tables import Table
from reports.quantities import minutes_text, not_known, quantity
from reports.recordings.panels import Lines, side_word
from reports.recordings.prose import said_again, said_each
from shop import written

PLUS_MINUS = "\u202f±\u202f"
PERCENT = "\u202f%"
HOUR_MIN = 59.5  # from here on minutes are said in hours
SHORTEST_MIN = 1.0  # a piece that the table shows
_PHASES = {
    "takeoff": pgettext_lazy("part of a flight", "take-off"),
    "climb": pgettext_lazy("part of a flight", "climb"),
    "cruise": pgettext_lazy("part of a flight", "cruise"),
    "descent": pgettext_lazy("part of a flight", "descent"),
    "approach": pgettext_lazy("part of a flight", "approach"),
}
EVENT_WORDS: Mapping[str, Promise] = {
    "engine_start": pgettext_lazy("moment of a flight", "engine start"),
    "liftoff": pgettext_lazy("moment of a flight", "lift-off"),
    "cruise_start": pgettext_lazy("part of a flight", "cruise"),
    "descent_start": pgettext_lazy("part of a flight", "descent"),
    "touchdown": pgettext_lazy("moment of a flight", "touch-down"),
    "shutdown": pgettext_lazy("moment of a flight", "shut-down"),
}
_BANDS = (
    ("75", gettext_lazy("In the 75 % band")),
    ("65", gettext_lazy("In the 65 % band")),
    ("light", gettext_lazy("Light running")),
    ("ground", gettext_lazy("On the ground")),
)


def verdict(kind: str, engine: EngineFlight) -> str:
    """What the recording shows of one engine, in a sentence or two."""
    run = {"run": minutes_text(engine.run_min)}
    if kind == RecordedKind.GROUND_RUN:
        return _("A ground run of %(run)s. Nothing in it counts for a power band.") % run
    if kind == RecordedKind.ABORTED:
        return _("The take-off was broken off. The engine ran for %(run)s on the ground.") % run
    upper, lower, light = (engine.minutes.get(name) for name in ("75", "65", "light"))
    flown = minutes_text(engine.airborne_min)
    if upper is None or lower is None:
        why = {"flown": flown, "why": _why_not(engine)}
        return _("%(flown)s in the air. Power could not be told: %(why)s") % why
    numbers = {"flown": flown, "upper": _counted(upper), "lower": _counted(lower) if lower.most >= 0.5 else ""}
    if light is not None and light.most >= 0.5:
        numbers["light"] = _counted(light)
    changes = ngettext("Power was changed once.", "Power was changed %(count)d times.", engine.changes)
    said = [
        _minutes_flown(numbers),
        changes % {"count": engine.changes} if engine.changes else _("Power was not changed in between."),
        _("Some minutes lie too close to the edge of a band to decide.") if _undecided(engine) else "",
    ]
    return " ".join(part for part in said if part)


def _minutes_flown(numbers: Mapping[str, str]) -> str:
    """flown, upper and lower, "" for none at 65 %; light where there was any."""
    if "light" in numbers and numbers["lower"]:
        said = _("Of %(flown)s in the air, %(upper)s were at 75 %%, %(lower)s at 65 %% and %(light)s light.")
    elif "light" in numbers:
        said = _("Of %(flown)s in the air, %(upper)s were at 75 %%, none at 65 %% and %(light)s light.")
    elif numbers["lower"]:
        said = _("Of %(flown)s in the air, %(upper)s were at 75 %% and %(lower)s at 65 %%.")
    else:
        said = _("Of %(flown)s in the air, %(upper)s were at 75 %% and none at 65 %%.")
    return said % numbers


def _why_not(engine: EngineFlight) -> str:
    return (
        said_again(engine.notes[0])
        if engine.notes
        else _("neither manifold pressure with rpm nor fuel flow was recorded.")
    )


def _undecided(engine: EngineFlight) -> bool:
    return any(piece.undecided for piece in engine.pieces)


def _counted(span: Span) -> str:
    """Minutes with what they may be: "52 min (49 to 55 min)"."""
    text, least, most = (minutes_text(each) for each in (span.central, span.least, span.most))
    if least == text == most:
        return text
    low = str(round(span.least)) if span.most < HOUR_MIN else least
    return _("%(text)s (%(low)s to %(high)s)") % {"text": text, "low": low, "high": most}


def minutes_table(engine: EngineFlight) -> Table | None:
    """Minutes in each band: central value, and what they could be at least and at most."""
    rows = tuple(
        (str(words), minutes_text(span.central), _least_most(span))
        for name, words in _BANDS
        if (span := engine.minutes.get(name)) is not None
    )
    caption = _("Minutes by the readings. Nine times in ten, or oftener, they lie from least to most.")
    return Table(caption, (_("Where"), _("Minutes"), _("At least and at most")), rows) if rows else None


def _least_most(span: Span) -> str:
    least, most = minutes_text(span.least), minutes_text(span.most)
    return _("the same") if least == most else _("%(low)s to %(high)s") % {"low": least, "high": most}


def pieces_table(engine: EngineFlight, clock: Callable[[float], str], units: str) -> Table | None:
    """The pieces of the flight with their power, where it counts and what was read; steps of under a minute are left
    out. The way that power is known stands once in the caption where it is the same throughout.
    """
    shown = [piece for piece in engine.pieces if piece.minutes >= SHORTEST_MIN]
    ways = {piece.method for piece in shown if piece.pct is not None}
    rows = tuple(
        (
            _("%(low)s to %(high)s") % {"low": clock(piece.t0), "high": clock(piece.t1)},
            minutes_text(piece.minutes),
            _part(piece),
            power_text(piece),
            _counts_as(piece),
            _readings(piece, units),
            *((said_each(piece.method, units) or not_known(),) if len(ways) > 1 else ()),
        )
        for piece in shown
    )
    heads = (
        _("From and to"),
        _("For"),
        _("Part"),
        _("Power"),
        _("Counts as"),
        pgettext("of an instrument", "Read"),
        *((_("Power known by"),) if len(ways) > 1 else ()),
    )
    caption = _("The time in the air in pieces of one power, or between two. One standard deviation after ±.")
    if len(ways) == 1:
        way = said_each(next(iter(ways)), units)
        caption += f" {way[:1].upper()}{way[1:].rstrip('.')}." if way else ""
    left_out = len(engine.pieces) - len(shown)
    if left_out:
        minutes = sum(piece.minutes for piece in engine.pieces) - sum(piece.minutes for piece in shown)
        short = _("Left out: %(count)d shorter than a minute, %(minutes)s together.")
        caption += f" {short % {'count': left_out, 'minutes': minutes_text(minutes)}}"
    return Table(caption, heads, rows) if rows else None


def _part(piece: Piece) -> str:
    part = _PHASES.get(piece.phase, piece.phase)
    return _("%(part)s, steady") % {"part": part} if piece.steady else str(part)


def power_text(piece: Piece) -> str:
    if piece.pct is None:
        return not_known()
    return f"{piece.pct:.0f}{PLUS_MINUS}{piece.sigma:.0f}{PERCENT}" if piece.sigma else f"{piece.pct:.0f}{PERCENT}"


def _counts_as(piece: Piece) -> str:
    if piece.pct is None:
        return not_known()
    band = f"{piece.band}{PERCENT}" if piece.band else _("neither band")
    return _("%(band)s, undecided") % {"band": band} if piece.undecided else band


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
    cells = tuple(
        (words, one or _("not typed"), other or _("not recorded"), apart) for words, one, other, apart in rows
    )
    heads = (_("What"), _("Typed, grade %(grade)s") % {"grade": flight.grade}, _("Recorded, grade A"), _("Apart"))
    caption = _("Typed and recorded side by side. What was typed stays as it is; the recording counts for power.")
    return Table(caption, heads, cells) if cells else None


Row = tuple[str, str, str, str]


def _compared(flight: Flight, typed: FlightEngine, recorded: EngineFlight, units: str) -> Sequence[Row]:
    takeoff = recorded.takeoff

    def row(words: str, one: float | None, other: float | None, kind: str) -> Row:
        apart = "" if one is None or other is None else quantity(abs(one - other), _difference(kind), units)
        return words, _if_known(one, kind, units), _if_known(other, kind, units), apart

    rows = [
        row(_("In the air"), flight.airborne_min, recorded.airborne_min, "minutes"),
        row(_("Ground running before"), flight.ground_before_min, recorded.ground_before_min, "minutes"),
        row(_("Ground running after"), flight.ground_after_min, recorded.ground_after_min, "minutes"),
        row(_("Full-throttle fuel flow"), typed.takeoff_ff_gph, takeoff.fuel_flow_gph, "fuel_flow"),
        row(_("Full-throttle manifold pressure"), typed.takeoff_map_inhg, takeoff.map_inhg, "manifold"),
        row(_("Full-throttle rpm"), typed.takeoff_rpm, takeoff.rpm, "rpm"),
        row(_("Hottest head"), typed.cht_max_degf, recorded.cht_max_degf, "temperature"),
        row(_("Highest oil temperature"), typed.oil_temp_max_degf, recorded.oil_temp_max_degf, "temperature"),
        row(_("Lowest oil pressure in flight"), typed.oil_press_min_psi, recorded.oil_press_min_psi, "oil_pressure"),
        row(_("Oil pressure at hot idle"), typed.oil_press_idle_psi, recorded.oil_press_idle_psi, "oil_pressure"),
        row(_("Highest turbine inlet temperature"), typed.tit_max_degf, recorded.tit_max_degf, "temperature"),
    ]
    told = {"yes": _("yes"), "no": _("no")}
    falling = told.get(typed.cht_falling_by_3000, ""), told.get(recorded.cht_falling_by_3000, "")
    differ = _("they disagree") if all(falling) and falling[0] != falling[1] else ""
    return [*rows, (_("Heads falling by 3,000 ft"), *falling, differ)]


def _difference(kind: str) -> str:
    return "difference" if kind == "temperature" else kind


def _if_known(value: float | None, kind: str, units: str) -> str:
    if value is None:
        return ""
    return minutes_text(value) if kind == "minutes" else quantity(value, kind, units)


def dated(recorded: RecordedFlight) -> str:
    """How the flight got its date, and what was done to the recorder's clock."""
    ways = {
        "file": _("The date and time are the file's own."),
        "flight": _("The file has no usable date: it is taken from the logged flight."),
        "person": _("The date was typed by hand."),
        "unknown": _("The file has no date, or a wrong one: times are those of the recorder's clock."),
    }
    said = ways.get(recorded.dated_by, "")
    shift = recorded.clock_shift_s
    if shift:
        said += " " + _("The recorder's clock was moved by %(shift)s.") % {"shift": shift_text(shift)}
    return said


def shift_text(seconds: float) -> str:
    """A shift of a clock as people say it: "1 h earlier", "365 days later"."""
    size = _size_text(abs(seconds))
    return _("%(shift)s later") % {"shift": size} if seconds > 0 else _("%(shift)s earlier") % {"shift": size}


def _size_text(size: float) -> str:
    if size >= 86400:
        days = round(size / 86400)
        return ngettext("%(count)d day", "%(count)d days", days) % {"count": days}
    if size >= 3600:
        whole, rest = divmod(round(size / 60), 60)
        return f"{whole} h {rest:02d} min" if rest else f"{whole} h"
    return f"{size:.0f} s" if size < 60 else f"{size / 60:.0f} min"


def twin_sentence(split_pct: float | None, over_min: float | None) -> str:
    """How evenly the two engines ran."""
    if split_pct is None:
        return _("Both engines were recorded; how evenly they ran in cruise could not be told.")
    numbers = {"split": f"{written.number(abs(split_pct), 1)}{PERCENT}"}
    if abs(split_pct) < 0.5:
        said = _("In cruise both engines ran at the same power to within half a percent.")
    elif split_pct > 0:
        said = _("In cruise the left engine ran %(split)s of rated power above the other on average.") % numbers
    else:
        said = _("In cruise the right engine ran %(split)s of rated power above the other on average.") % numbers
    if over_min:
        apart = _("They stood more than 6 %% apart for %(minutes)s.")
        said += " " + apart % {"minutes": minutes_text(over_min)}
    return said


def power_caption(engines: Mapping[str, EngineFlight], lines: Mapping[str, Lines]) -> str:
    """What the picture shows, in sentences."""
    bands = next((each.bands for each in lines.values() if each.bands), None)
    said = [_("Percent of rated power with one standard deviation around it.")]
    if bands:
        spans = [
            _("%(low)s to %(high)s") % {"low": written.short(low), "high": f"{written.short(high)}{PERCENT}"}
            for _name, (low, high) in sorted(bands.items(), reverse=True)
        ]
        shaded = _(
            "Shaded across: the plan's bands, %(bands)s. Broad strokes: pieces held steady for ten minutes or more."
        )
        said.append(shaded % {"bands": _and(spans)})
    hottest = [
        _hottest(engine.cht_max_cylinder, side_word(side, len(engines) > 1))
        for side, engine in engines.items()
        if engine.cht_max_cylinder is not None
    ]
    if hottest:
        strong = _("Of the cylinders the strong line is the hottest head, %(heads)s.")
        said.append(strong % {"heads": _and(hottest)})
    said.append(_("The numbers in boxes are those of the list below."))
    return " ".join(said)


def _hottest(number: int, side: str) -> str:
    if side:
        return _("cylinder %(number)d (%(side)s)") % {"number": number, "side": side}
    return _("cylinder %(number)d") % {"number": number}


def _and(parts: Sequence[str]) -> str:
    return (
        _("%(first)s and %(second)s") % {"first": parts[0], "second": parts[1]} if len(parts) == 2 else ", ".join(parts)
    )
