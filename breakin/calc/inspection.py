"""Numbers of an inspection and the lines they are held against.

All lines are common practice of the trade without a published source, unless said otherwise; the maker's current
instructions come first. Words are ordered from mild to grave, so that two looks are compared by their places.
"""

from __future__ import annotations

from collections.abc import Mapping

from breakin.calc.atmosphere import density_ratio, standard_temperature_degf
from breakin.calc.power import corrected_fuel_flow_gph
from breakin.calc.said import Said, said

MATERIALS = ("none", "fuzz", "non_metal", "flake", "sliver", "chunk")
METAL = ("fuzz", "flake", "sliver", "chunk")
COUNTS = ("none", "few", "some", "many")
"""Pieces: 0, 1 to 5, 6 to 15, more than 15."""
COUNT_WORDS = {"none": said("none"), "few": said("few"), "some": said("some"), "many": said("many")}
PIECES = {
    "none": said("pieces"),
    "fuzz": said("pieces of fuzz"),
    "non_metal": said("pieces that are no metal"),
    "flake": said("flakes"),
    "sliver": said("slivers"),
    "chunk": said("chunks"),
}
AMOUNTS = ("none", "trace", "quarter", "half", "more")
"""Metal in all, as parts of a teaspoon."""
LONG_SLIVER_MM = 2.0
LONG_FLAKE_MM = 1.0
PASSING_SHARE = 60 / 80
"""Of the input pressure: under it a cylinder is looked at soon."""
DRIPS = 2
"""Grade of a leak from which on it is open (0 dry, 1 film, 2 drips, 3 streaming)."""
UNDER_AMBIENT_INHG = 1.5
"""Full-throttle manifold pressure of an engine without a compressor stays no further under the air outside."""
TIMING_OFF_DEG = 1.0
"""Between ignition timing as left and the data plate; own choice, the maker's tolerance comes first."""
DROPS_APART_RPM = 50.0
"""Between the two drops of an ignition check; from memory, the POH/AFM comes first."""
BASELINE_SAMPLES = 2
RISE_SHARE, RISE_PPM = 0.25, 5.0


def loss_pct(psi: float, supply: float) -> float:
    """Share of the input pressure that is lost past rings and valves.

    Parameters
    ----------
    psi : reading of the cylinder [psi].
    supply : input pressure [psi], above 0.

    Returns
    -------
    float [%]
    """
    return 100.0 * (supply - psi) / supply


def flow_at_sea_level_gph(full_gph: float, density_altitude_ft: float) -> float:
    """A full-throttle fuel flow at a density altitude, as a system that follows density would show it at sea level.

    Parameters
    ----------
    full_gph : as read [US gal/h].
    density_altitude_ft : of the place and day [ft].

    Returns
    -------
    float [US gal/h]; the correction is that of `corrected_fuel_flow_gph`.
    """
    # In the standard atmosphere a density altitude is a pressure altitude at standard temperature.
    ratio = density_ratio(density_altitude_ft, standard_temperature_degf(density_altitude_ft))
    return float(corrected_fuel_flow_gph(full_gph, float(ratio)))


def grew(before: Mapping[str, object], now: Mapping[str, object]) -> str:
    """How the metal in a filter grew since the look before it; empty when it did not.

    Parameters
    ----------
    before, now : the results of two filters, with `material`, `count`, `amount` as far as they were told.

    Returns
    -------
    str: a few words. A first trace after a clean filter is no growth, nor is what cannot be compared.
    """
    if now.get("material") not in METAL:
        return ""
    amounts = [AMOUNTS.index(str(one["amount"])) for one in (before, now) if one.get("amount") in AMOUNTS]
    if len(amounts) == 2 and amounts[1] > max(amounts[0], AMOUNTS.index("trace")):
        return said("metal in all grew from {before} to {now}", before=_amount(amounts[0]), now=_amount(amounts[1]))
    same = before.get("material") == now.get("material") and now.get("material") != "fuzz"
    counts = [COUNTS.index(str(one["count"])) for one in (before, now) if one.get("count") in COUNTS]
    if same and len(counts) == 2 and counts[1] > counts[0]:
        return said(
            "{pieces} grew from {before} to {now}",
            pieces=PIECES[str(now["material"])],
            before=COUNT_WORDS[COUNTS[counts[0]]],
            now=COUNT_WORDS[COUNTS[counts[1]]],
        )
    return ""


def _amount(place: int) -> Said:
    return (
        said("none"),
        said("a trace"),
        said("a quarter teaspoon"),
        said("half a teaspoon"),
        said("more than half a teaspoon"),
    )[place]


def risen(
    baseline: list[tuple[Mapping[str, float], float | None]], ppm: Mapping[str, float], hours: float | None
) -> dict[str, tuple[float, float]]:
    """Metals of an oil sample that lie clearly above both samples of the break-in baseline.

    Parameters
    ----------
    baseline : (metal: ppm, hours on that oil) of the first samples.
    ppm, hours : of this sample. Where the hours of all samples are known, metal is compared for the same hours.

    Returns
    -------
    metal: (highest of the baseline, now) [ppm], where it rose by more than a quarter and more than 5 ppm.
    """
    known = hours and all(on_oil for _, on_oil in baseline)
    found = {}
    for metal, value in ppm.items():
        scaled = [
            one[metal] * (hours / on_oil if known and hours and on_oil else 1.0)
            for one, on_oil in baseline
            if metal in one
        ]
        most = max(scaled, default=0.0)
        if len(scaled) >= BASELINE_SAMPLES and value > max(most * (1 + RISE_SHARE), most + RISE_PPM):
            found[metal] = (most, value)
    return found
