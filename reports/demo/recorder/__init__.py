"""A flight that an engine monitor recorded, made by calculation: a script of legs, a simple engine, and a text file.

The engine follows its power chart, a mixture curve, first-order heads and a sensible oil system. It is made for the
demo and for measuring the reading of recordings; nothing here says how a real engine behaves.
"""

from reports.demo.recorder.dialect import Dialect, write_file
from reports.demo.recorder.engine import Engine, engine_of_type
from reports.demo.recorder.instruments import Instruments, readings
from reports.demo.recorder.script import Air, Script
from reports.demo.recorder.simulate import EngineRun, Flown, simulate

__all__ = [
    "Air",
    "Dialect",
    "Engine",
    "EngineRun",
    "Flown",
    "Instruments",
    "Script",
    "engine_of_type",
    "readings",
    "simulate",
    "write_file",
]
