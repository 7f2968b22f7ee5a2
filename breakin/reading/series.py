"""The lines of a recorded flight for the picture: one small file of arrays, so that no web process reads a table.

It is made when a recording is read and may be made again. Positions are left out: a picture of power needs none.
"""

from __future__ import annotations

import hashlib
import io
from collections.abc import Callable, Mapping, Sequence
from dataclasses import asdict, dataclass
from typing import Any, Protocol

import numpy as np
from django.core.files.base import ContentFile
from django.core.files.storage import default_storage

from breakin.calc.recording.moments import Moment, moments
from breakin.calc.recording.result import FlightAnalysis
from breakin.calc.recording.thin import Floats
from breakin.models import RecordedFlight, RecordingRead

TIME = "t"
LEFT_OUT = frozenset({"latitude_deg", "longitude_deg"})
Power = Mapping[str, tuple[Floats, Floats]]


class Table(Protocol):
    """What is drawn of a table of one flight: canonical columns over seconds."""

    @property
    def columns(self) -> Mapping[str, Floats]: ...

    @property
    def t(self) -> Floats: ...


@dataclass(frozen=True)
class Series:
    """The lines of one recorded flight. Channels are read when they are asked for.

    t : float [s], shape (n,), 0 at the first row of the flight.
    names : canonical names, besides "pct_1" and "sigma_1" [% of rated power] for each engine with known power.
    """

    t: Floats
    names: tuple[str, ...]
    channel: Callable[[str], Floats]


class Keeper:
    """Puts the lines of one reading into the place of those of the reading before.

    As a context it clears up: unless :meth:`settle` was reached, what was stored goes again.
    """

    def __init__(self, reading: RecordingRead) -> None:
        self.reading = reading
        rows = RecordedFlight.objects.filter(recording=reading.pk)
        self.before = {name for row in rows if (name := str(row.summary.get("series") or ""))}
        self.now: set[str] = set()
        self.settled = False

    def keep(self, table: Table, analysis: FlightAnalysis, power: Power) -> dict[str, Any]:
        """Store the lines of one flight.

        table : the rows of this flight alone. power : side -> (percent, one sigma), each of shape (n,).

        Returns
        -------
        what belongs into the summary of the flight: where its lines are, the range of each channel, the moments of its
        outstanding readings, and how long it is [s].
        """
        t = np.asarray(table.t, dtype=np.float64)
        t = t - t[0] if t.size else t
        lines = {name: values for name, values in table.columns.items() if name not in LEFT_OUT}
        for side, (pct, sigma) in power.items():
            lines |= {f"pct_{side}": np.round(pct, 2), f"sigma_{side}": np.round(sigma, 2)}  # no power is known better
        return {
            "series": self._stored(_packed(t, lines)),
            "moments": [asdict(each) for each in moments(t, table.columns, analysis)],
            "ranges": {each: reach for each, values in lines.items() if (reach := _reach(values)) is not None},
            "seconds": float(t[-1]) if t.size else 0.0,
        }

    def _stored(self, content: bytes) -> str:
        """Named by what is in it: the same lines are the same file, and others have another address in a browser."""
        recording = self.reading.recording
        digest = hashlib.sha256(content).hexdigest()[:20]
        name = f"series/{recording.uploaded_at:%Y/%m}/{recording.pk}-{digest}.npz"
        if name not in self.before | self.now or not default_storage.exists(name):
            name = default_storage.save(name, ContentFile(content))
        self.now.add(name)
        return name

    def settle(self) -> None:
        """The rows point to the new lines: those that nobody points to any more go."""
        self.settled = True
        for name in self.before - self.now:
            default_storage.delete(name)

    def __enter__(self) -> Keeper:
        return self

    def __exit__(self, *error: object) -> None:
        if not self.settled:
            for name in self.now - self.before:
                default_storage.delete(name)


def read_series(recorded_flight: RecordedFlight) -> Series | None:
    """The lines of this flight; None where they are not there: never made, or lost with the disk."""
    name = str(recorded_flight.summary.get("series") or "")
    if not name:
        return None
    try:
        with default_storage.open(name) as kept:
            held = np.load(io.BytesIO(kept.read()), allow_pickle=False)
    except (FileNotFoundError, ValueError):
        return None
    names = tuple(each for each in held.files if each != TIME)
    return Series(held[TIME], names, lambda channel: np.asarray(held[channel], dtype=np.float64))


def moments_of(recorded_flight: RecordedFlight) -> tuple[Moment, ...]:
    """When the outstanding readings of this flight were."""
    kept: Sequence[Mapping[str, Any]] = recorded_flight.summary.get("moments") or ()
    return tuple(Moment(**each) for each in kept)


def ranges_of(recorded_flight: RecordedFlight) -> dict[str, tuple[float, float]]:
    """Lowest and highest of each channel that holds anything, in canonical units."""
    kept: Mapping[str, Sequence[float]] = recorded_flight.summary.get("ranges") or {}
    return {name: (float(low), float(high)) for name, (low, high) in kept.items()}


def _reach(values: Floats) -> list[float] | None:
    finite = values[np.isfinite(values)]
    return [round(float(finite.min()), 3), round(float(finite.max()), 3)] if finite.size else None


def _packed(t: Floats, lines: Mapping[str, Floats]) -> bytes:
    """Single precision: seven digits, more than any instrument writes. Lines with nothing in them are left out."""
    out = io.BytesIO()
    kept = {name: values.astype(np.float32) for name, values in sorted(lines.items()) if np.isfinite(values).any()}
    np.savez_compressed(out, allow_pickle=False, **{TIME: t}, **kept)
    return out.getvalue()
