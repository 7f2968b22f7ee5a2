"""Read one recording from its file to its flights, in the process of a task."""

from __future__ import annotations

import logging
import shutil
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from datetime import UTC, datetime, timedelta
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import TYPE_CHECKING, Any

import numpy as np
from celery.exceptions import SoftTimeLimitExceeded
from django.core.files import File
from django.core.files.storage import default_storage
from django.db import DatabaseError
from django.utils.translation import gettext_noop as _

from breakin.calc import recording as calc
from breakin.calc.recording.result import as_json
from breakin.calc.recording.scales import wanted_of
from breakin.models import DatedBy, ReadState, RecordingRead
from breakin.reading import claiming
from breakin.reading.claiming import Overtaken, Progress, claim
from breakin.reading.columns import ASK_DATE, Columns, as_kept, columns_of
from breakin.reading.dating import AHEAD, Ran, Start, date_is_missing, start_of
from breakin.reading.keeping import Outcome, Read, keep
from breakin.reading.plain import plain
from breakin.reading.series import Keeper
from breakin.reading.spec import brief, moved_seats, nearest_seats, seats_at
from engines.models import Installation

if TYPE_CHECKING:
    from breakin.calc.recording import Found, Table

logger = logging.getLogger(__name__)

_CHUNK = 1024 * 1024
_TURNING_RPM = 250.0
_OUR_FAULT = {
    "what": "The program failed while it read this file; that is a fault of the program, not of the file",
    "row": None,
    "column": None,
    "mend": "The file is kept as it came, and is read again after the next update. Tell the shop about it.",
}
_MISSING = {
    "what": "The stored file is not there any more",
    "row": None,
    "column": None,
    "mend": "Send the same file again, or have it restored from a backup.",
}


_TOO_LARGE = {
    "what": "Reading this file took more time or memory than this server gives to it",
    "row": None,
    "column": None,
    "mend": "The file is kept as it came. Send its flights as files of their own.",
}


def read_recording(recording_id: int, now: datetime, *, again: bool = False) -> list[int]:
    """Read a recording that waits; nothing when it does not wait or another worker has it.

    Whatever goes wrong, the file stays as it came and the row says what happened.

    Parameters
    ----------
    again : the message came a second time because its first worker died.

    Returns
    -------
    ids of the builds that are to be judged.
    """
    reading = claim(recording_id, now, again=again)
    if reading is None:
        return []
    progress = Progress(recording_id, now)
    try:
        with (
            on_disk(reading.recording.file) as path,
            TemporaryDirectory(prefix="reading-") as folder,
            Keeper(reading) as keeper,
        ):
            return _read(reading, path, Path(folder), progress, keeper, now)
    except Overtaken:
        return []
    except DatabaseError:
        raise  # the row still says READING: the minute takes it up again
    except calc.Unreadable as error:
        told = {"what": error.what, "row": error.row, "column": error.column, "mend": error.mend}
        return _refuse(reading, told, now)
    except FileNotFoundError:
        logger.exception("The file of recording %s is missing", recording_id)
        return _refuse(reading, _MISSING, now)
    except (SoftTimeLimitExceeded, MemoryError):
        logger.exception("Recording %s is too large", recording_id)
        return _refuse(reading, _TOO_LARGE, now)
    except Exception:
        logger.exception("Recording %s could not be read", recording_id)
        return _refuse(reading, _OUR_FAULT, now)


def ask_stale(now: datetime) -> list[int]:
    """A night's share of the recordings to be read anew: the program reads better now, or an engine sat elsewhere."""
    return claiming.ask_stale(now, calc.VERSION, moved_seats())


@contextmanager
def on_disk(stored: Any) -> Iterator[Path]:
    """A stored file as a path: where it lies, or a copy where it lies in object storage."""
    try:
        path = Path(stored.path)
    except NotImplementedError:
        path = None
    if path is not None:
        if not path.exists():
            raise FileNotFoundError(path)
        yield path
        return
    with TemporaryDirectory(prefix="recording-") as folder:
        copy = Path(folder) / "recording"
        with default_storage.open(stored.name) as source, copy.open("wb") as target:
            shutil.copyfileobj(source, target, _CHUNK)
        yield copy


def _read(
    reading: RecordingRead, path: Path, folder: Path, progress: Progress, keeper: Keeper, now: datetime
) -> list[int]:
    progress.step(_("looking at the columns"))
    look = calc.look(path)
    shown = as_kept(look)
    columns, questions = columns_of(reading, look, path)
    if columns is None:
        return _ask(reading, shown, questions, now)
    progress.step(_("reading rows"))
    parquet = folder / "table.parquet"
    facts = calc.convert(
        path,
        columns.mapping,
        parquet,
        progress=progress,
        keep_position=columns.keep_position,
        now=(reading.recording.uploaded_at + AHEAD).astimezone(UTC).replace(tzinfo=None),
        **_engines_there(reading),
    )
    if date_is_missing(reading, facts.has_date):
        return _ask(reading, shown, [ASK_DATE], now)
    progress.step(_("looking for flights"))
    whole = calc.read_parquet(parquet, columns=_that_tell_flights_apart(columns.mapping))
    found = [(each, _ran(whole, each)) for each in calc.flights_in(whole)]
    del whole
    ran = [each for _found, each in found]
    start = start_of(reading, facts.started, facts.has_date, columns.zones, ran, suspicious=facts.suspicious)
    flights = tuple(_analysed(reading, parquet, start, found, progress, keeper))
    if not flights:
        progress.step(_("nothing ran"))
    stored = _store(reading, parquet, now)
    notes = [*facts.notes, *([start.note] if start.note else []), *([] if flights else [_NOTHING_RAN])]
    written = {
        **_done(reading, shown, columns, now),
        "state": ReadState.READ,
        "table": stored,
        "rows": facts.rows,
        "sample_s": facts.sample_s,
        "notes": plain(notes),
        "problem": {},
    }
    try:
        builds = keep(reading, Outcome(written, start, flights), now)
    except BaseException:
        default_storage.delete(stored)
        raise
    before = reading.table.name
    if before and before != stored:
        default_storage.delete(before)
    keeper.settle()
    return builds


def _engines_there(reading: RecordingRead) -> dict[str, Any]:
    """What is known of the engines before the recording is dated: for units that the numbers alone leave open."""
    specs, _schedule = brief(_seats_now(reading), reading.recording.uploaded_at)
    hp = {side: spec["rated_hp"] for side, spec in specs.items() if "rated_hp" in spec}
    weights = [spec["fuel_lb_per_gal"] for spec in specs.values() if "fuel_lb_per_gal" in spec]
    return {"rated_hp": hp} | ({"fuel_lb_per_gal": weights[0]} if weights else {})


_NOTHING_RAN = "The engine did not run in this recording."


def _done(reading: RecordingRead, shown: dict[str, Any], columns: Columns | None, now: datetime) -> dict[str, Any]:
    return {
        "look": shown,
        "channel_map": columns.channel_map if columns else reading.channel_map,
        "version": calc.VERSION,
        "step": "",
        "finished_at": now,
        "attempts": 0,
    }


def _that_tell_flights_apart(mapping: Mapping[str, Any]) -> list[str]:
    """Of a long recording not all columns need be in memory at once: flights are told apart without these."""
    names = [each.name for each in wanted_of(mapping)]
    return [name for name in names if not name.startswith(("egt_", "tit_", "oil_press_"))]


def _ran(table: Table, found: Found) -> Ran:
    """When the engine ran: a recorder may be on long before and after."""
    first, end = (int(place) for place in np.searchsorted(table.row, (found.first_row, found.end_row)))
    speeds = [values[first:end] for name, values in table.columns.items() if name.startswith("rpm_")]
    turning = np.flatnonzero(np.any([values > _TURNING_RPM for values in speeds], axis=0)) if speeds else np.array([])
    start, last = (first + int(turning[0]), first + int(turning[-1])) if len(turning) else (first, end - 1)
    return Ran(found.kind, float(table.t[start]), float(table.t[last]))


def _analysed(
    reading: RecordingRead,
    parquet: Path,
    start: Start,
    found: Sequence[tuple[Found, Ran]],
    progress: Progress,
    keeper: Keeper,
) -> Iterator[Read]:
    words = {"flight": "flight", "ground_run": "ground run"}
    for number, (each, ran) in enumerate(found, 1):
        progress.step(f"working out {words.get(each.kind, 'take-off')} {number} of {len(found)}")
        table = calc.read_parquet(parquet, each.first_row, each.end_row)
        at = start.at + timedelta(seconds=ran.t0)
        seats, note = _seats(reading, start, at)
        specs, schedule = brief(seats or nearest_seats(reading.recording.aircraft_id, at), at)
        engine_specs = {side: calc.EngineSpec.from_dict(spec) for side, spec in specs.items()}
        analysis = calc.analyse_flight(table, engine_specs, schedule)
        summary = plain(as_json(analysis))
        engines = summary.pop("engines")
        summary |= {"t0": float(table.t[0]), "began_t": ran.t0}
        summary |= keeper.keep(table, analysis, calc.power_series(table, engine_specs, schedule))
        summary["notes"] = [*each.notes, *summary["notes"], *([note] if note else [])]
        whole = list(analysis.engines.values())
        yield Read(
            kind=each.kind,
            first_row=each.first_row,
            end_row=each.end_row,
            t0=ran.t0,
            t1=ran.t1,
            landings=each.landings,
            run_min=max((one.run_min for one in whole), default=0.0),
            airborne_min=max((one.airborne_min for one in whole), default=0.0),
            quality=_quality(table),
            summary=summary,
            engines=tuple((side, seats[side], engines[side]) for side in sorted(engines) if side in seats),
        )


def _seats(reading: RecordingRead, start: Start, at: datetime) -> tuple[dict[str, Installation], str]:
    """The engines that sat there then; for a time that is not known or not in the book, those of the nearest time."""
    aircraft = reading.recording.aircraft
    seats = {} if start.by == DatedBy.UNKNOWN else seats_at(aircraft.pk, at)
    if seats:
        return seats, ""
    if start.by == DatedBy.UNKNOWN:
        return _seats_now(reading), ""
    return {}, f"By the book no engine was in {aircraft.registration} then, so it counts for none."


def _seats_now(reading: RecordingRead) -> dict[str, Installation]:
    """The engines that sat there when the file came, or next to that time."""
    aircraft_id, at = reading.recording.aircraft_id, reading.recording.uploaded_at
    return seats_at(aircraft_id, at) or nearest_seats(aircraft_id, at)


def _quality(table: Table) -> int:
    """Of two recorders on one flight the better one: more channels that hold anything, then finer sampling."""
    channels = sum(bool(np.isfinite(values).any()) for values in table.columns.values())
    return min(channels, 999) * 1000 + max(999 - round(table.sample_s * 10), 0)


def _store(reading: RecordingRead, parquet: Path, now: datetime) -> str:
    name = f"tables/{now:%Y/%m}/{reading.recording.sha256[:32]}.parquet"
    with parquet.open("rb") as content:
        return default_storage.save(name, File(content))


def _ask(reading: RecordingRead, shown: dict[str, Any], questions: list[dict[str, Any]], now: datetime) -> list[int]:
    """Wait for a person to say what the columns are. What an earlier reading said stands."""
    shown["questions"] = questions
    _finish(reading, {**_done(reading, shown, None, now), "state": ReadState.ASKS, "problem": {}})
    return []


def _refuse(reading: RecordingRead, problem: dict[str, Any], now: datetime) -> list[int]:
    """Say what is wrong. Where an earlier reading stands, it goes on standing, with the problem beside it."""
    state = ReadState.READ if reading.table else ReadState.REFUSED
    done = {"version": calc.VERSION, "step": "", "finished_at": now, "attempts": 0}
    _finish(reading, {**done, "state": state, "problem": problem})
    return []


def _finish(reading: RecordingRead, columns: dict[str, Any]) -> None:
    mine = RecordingRead.objects.filter(pk=reading.pk, state=ReadState.READING, started_at=reading.started_at)
    mine.update(**columns)
