"""The sentences of the next-flight card, each whole, so that each can be said in another language.

What they state is common practice of the trade without a published source unless a comment names one; the numbers in
them come from the rules, the engine type and the plan.
"""

from __future__ import annotations

from django.utils.translation import gettext as _

from breakin.models import StageKind

FIRST = frozenset({StageKind.HOUR_1, StageKind.HOUR_2})


def not_fitted() -> str:
    return _("not fitted")


def by_handbook() -> str:
    return _("by the POH/AFM")


# --- Field and air ---


def air_source(*, oat: str, altimeter: str, station: str, time: str) -> str:
    """Where temperature and altimeter setting come from: each "typed", "report" or ""."""
    if "report" in (oat, altimeter):
        both = oat == altimeter
        said = (
            _("Temperature and altimeter setting from the report of {station}, {time} UTC.")
            if both
            else _("Temperature from the report of {station}, {time} UTC.")
            if oat == "report"
            else _("Altimeter setting from the report of {station}, {time} UTC.")
        )
        return said.format(station=station, time=time)
    if oat and altimeter:
        return _("Temperature and altimeter setting as typed.")
    if oat:
        return _("Temperature as typed; the standard altimeter setting is assumed.")
    if altimeter:
        return _("Altimeter setting as typed; standard temperature is assumed.")
    return _("Standard air is assumed: type the temperature and the altimeter setting of the day, or paste a METAR.")


def old_report(station: str, time: str) -> str:
    return _("The report of {station} is from {time} UTC, more than 3 hours old: paste a newer one.").format(
        station=station, time=time
    )


def report_lacks(what: str) -> str:
    if what == "oat":
        return _("The report gives no temperature. Type it in its own box.")
    return _("The report gives no altimeter setting. Type it in its own box.")


def needed_for_descent() -> str:
    return _("The top of descent needs this too. Type it, or empty the other box.")


def planned_field(name: str) -> str:
    return _("%(field)s, by the delivery plan") % {"field": name}


def elevation() -> str:
    return _("Elevation")


def altimeter() -> str:
    return _("Altimeter")


def temperature() -> str:
    return _("Temperature")


def pressure_altitude() -> str:
    return _("Pressure altitude")


def density_altitude() -> str:
    return _("Density altitude")


# --- This flight ---


def stop(side: str, title: str) -> str:
    if side:
        return _("Do not fly until a technician has cleared this item. {side} engine: {title}.").format(
            side=side, title=title
        )
    return _("Do not fly until a technician has cleared this item: {title}.").format(title=title)


def may_be(stage: str) -> tuple[str, ...]:
    if stage in FIRST:
        return (_("Steady flight at high power near the field, with places to land always in reach."),)
    return (_("A local flight, or a trip of half an hour or more at the powers below, with places to land in reach."),)


def do_not(stage: str) -> tuple[str, ...]:
    if stage in FIRST:
        return (
            _("No circuits, no air work, no long taxi, no waiting with the engine running."),
            _("No trip over ground without places to land."),
        )
    return (
        _("No circuits, no air work at low power, no long taxi."),
        _("No trip over ground without places to land, or so high that the power can't be had."),
    )


def ground(minutes: str) -> str:
    return _(
        "At most {minutes} on the ground, into wind, cowl flaps open; oil temperature in the green before full power."
    ).format(minutes=minutes)


def hours_run(hours: str) -> str:
    return _("{hours} h run so far").format(hours=hours)


def plan(revision: int, source: str, source_revision: str) -> str:
    return _("Plan revision {revision}. {source}, {source_revision}").format(
        revision=revision, source=source, source_revision=source_revision
    )


def no_plan() -> str:
    return _("No run-in plan has been issued yet: call the shop before the first flight.")


# --- Both engines of a twin ---


def even_power() -> str:
    # The lines of rule P6.
    return _("Even power on both engines: manifold pressure within 0.5 inHg (17 hPa), rpm within 25.")


def uneven_stages(side: str) -> str:
    return _(
        "The engines are at different stages: read each column, and fly both by the minutes of the {side} engine."
    ).format(side=side)


def follows() -> str:
    return _("Not in break-in: it follows the other engine, even power.")


def no_break_in() -> str:
    return _("Not in break-in: there is no break-in to fly.")


# --- Why there are no settings ---


def log_only() -> str:
    return _("Log only: this type has no built-in judgement. Fly the maker's own plan.")


def mend_the_box() -> str:
    return _("Mend the box above: without it there are no settings.")


def no_chart() -> str:
    return _("No power chart of this type is on file: set the power by the POH/AFM.")


def no_settings(why: str) -> str:
    return _("No settings: {why}").format(why=why)


# --- Down again ---


def descent(*, manifold: bool) -> str:
    if manifold:
        return _("5 inHg (170 hPa) less gives about 500 ft/min. Do not chop the power.")
    return _("A little less rpm at a time, about 500 ft/min. Do not chop the power.")


def top_of_descent(from_: str, to: str, speed: str, distance: str, minutes: str) -> str:
    return _("From {from_} to {to} at {speed}: begin {distance} before the field, {minutes}.").format(
        from_=from_, to=to, speed=speed, distance=distance, minutes=minutes
    )


def nautical_miles(distance: str) -> str:
    return _("{distance} nautical miles").format(distance=distance)


def land_now() -> tuple[str, ...]:
    return (
        _("oil pressure is low"),
        _("a head is over the maker's limit or racing up"),
        _("the engine runs rough"),
        _("there is smoke or a smell of fuel"),
        _("oil is on the glass"),
    )


def after() -> tuple[str, ...]:
    return (
        _("Write down the minutes at each power."),
        _("Read the oil 10 to 30 min after shutdown, on level ground, wiped twice."),
        _("Look at belly and cowl: no oil, a film, drips, streaming."),
    )


def footer() -> str:
    return _("The maker's current instructions and the POH/AFM win over this card.")
