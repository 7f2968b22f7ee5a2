"""Recordings of engine instruments: reading the file, and what it says of the flight.

Nothing of the data-frame library is imported with this package: :mod:`breakin.calc.recording.table` reaches it from
inside its functions.
"""
