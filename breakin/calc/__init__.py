"""Pure numbers: no Django, no clock, no reading or writing of files.

Everything here is a function of its arguments. Canonical units: US quart, degF, delta-degF, inHg, rpm,
US gal/h, ft, hp, hours (see :mod:`breakin.calc.units`).
"""
