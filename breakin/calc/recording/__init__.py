"""Recordings of engine instruments: reading the file, and what it says of the flight.

Nothing of the data-frame library is imported with this package: :mod:`breakin.calc.recording.table` reaches it from
inside its functions.
"""

from breakin.calc.recording.analysis import VERSION, analyse, analyse_flight, power_series
from breakin.calc.recording.channels import Column, Guess, Look, look
from breakin.calc.recording.doubts import Question, doubts
from breakin.calc.recording.reading import Facts, convert, read_table
from breakin.calc.recording.spans import Found, flights_in
from breakin.calc.recording.spec import EngineSpec
from breakin.calc.recording.store import read_parquet, write_parquet
from breakin.calc.recording.table import Table
from breakin.calc.recording.unreadable import Unreadable

__all__ = [
    "VERSION",
    "Column",
    "EngineSpec",
    "Facts",
    "Found",
    "Guess",
    "Look",
    "Question",
    "Table",
    "Unreadable",
    "analyse",
    "analyse_flight",
    "convert",
    "doubts",
    "flights_in",
    "look",
    "power_series",
    "read_parquet",
    "read_table",
    "write_parquet",
]
