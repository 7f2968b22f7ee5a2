"""The sentences of one engine's column on the next-flight card, from take-off to cruise; see `card_words`."""

from __future__ import annotations

from django.utils.translation import gettext as _

# --- Labels ---


def engine_speed() -> str:
    return _("rpm")


def manifold_pressure() -> str:
    return _("Manifold pressure")


def fuel_flow() -> str:
    return _("Fuel flow")


def mixture() -> str:
    return _("Mixture")


def cowl_flaps() -> str:
    return _("Cowl flaps")


def not_above() -> str:
    return _("Not above")


def early() -> str:
    return _("Expected early")


def watch_line() -> str:
    return _("Watch line")


def makers_limit() -> str:
    return _("Maker's limit")


def heads() -> str:
    return _("Heads")


def turbine() -> str:
    return _("Turbine inlet (TIT)")


def oil_temperature() -> str:
    return _("Oil temperature")


def oil_pressure() -> str:
    return _("Oil pressure")


# --- Take-off ---


def rpm_at_take_off() -> str:
    return _("more than 50 rpm under it: call the shop")


def static_rpm() -> str:
    return _("static rpm of the POH/AFM")


def at_least(value: str) -> str:
    return _("{value} or more").format(value=value)


def give_or_take(value: str, margin: str) -> str:
    return _("{value} ± {margin}").format(value=value, margin=margin)


def ambient(value: str) -> str:
    return _("air outside {value}; as the gauge shows it").format(value=value)


def boosted() -> str:
    return _("the maker's setting, as the gauge shows it")


def from_to(low: str, high: str) -> str:
    return _("{low} to {high}").format(low=low, high=high)


def flow_corrected(low: str, high: str, at: str) -> str:
    return _(
        "The band is {low} to {high} at sea level; this fuel system follows density, so it stands here for {at} of "
        "density altitude."
    ).format(low=low, high=high, at=at)


def flow_raw() -> str:
    return _("Read it as it stands: this fuel system does not follow density.")


def flow_unknown() -> str:
    return _("Whether this fuel system follows density is not on record: check a low reading with a technician.")


def reject(low: str) -> str:
    if not low:
        return _(
            "One look, early in the roll. Rough or short of power: reject while runway remains, by the POH/AFM "
            "procedure. Already flying: stay over the field, land."
        )
    return _(
        "One look, early in the roll. Fuel flow below {low} or rough: reject while runway remains, by the POH/AFM "
        "procedure. Already flying: stay over the field, land."
    ).format(low=low)


# --- Climb ---


def climb(to: str, altimeter: str, *, above_field: bool) -> str:
    if above_field:
        return _(
            "Full throttle to {to} above the field, {altimeter} on the altimeter, always in gliding reach of it."
        ).format(to=to, altimeter=altimeter)
    return _("Full throttle to {to} above sea level, always in gliding reach of the field.").format(to=to)


def climb_no_higher(reach: str) -> str:
    return _(
        "75 % is not to be had above {reach} pressure altitude: climb to a safe gliding height and no higher, every "
        "further foot costs power."
    ).format(reach=reach)


def climb_lowest() -> str:
    return _(
        "75 % is not to be had here: climb to a safe gliding height and no higher, every further foot costs power."
    )


def climb_box(height: str, altimeter: str) -> str:
    return _("{height} above the field ({altimeter})").format(height=height, altimeter=altimeter)


def sea_box(altimeter: str) -> str:
    return _("{altimeter} above sea level").format(altimeter=altimeter)


def falling_by(height: str, altimeter: str) -> str:
    # Rule E3 looks at 3,000 ft above the field.
    return _(
        "The heads must be falling by {height} above the field ({altimeter}). If not: cowl flaps open, mixture rich, "
        "nose down, land."
    ).format(height=height, altimeter=altimeter)


def mixture_in_climb() -> str:
    return _("Full rich, or as the POH/AFM says at this altitude. Never look for the peak in the full-throttle climb.")


# --- Power ---


def day_name(name: str) -> str:
    return {"cold": _("cold"), "standard": _("standard"), "hot": _("hot"), "today": _("today")}[name]


def air_of(name: str) -> str:
    """The day's air in a sentence."""
    return _("today's") if name == "today" else _("standard")


def off_standard(by: str, *, colder: bool) -> str:
    return (_("{by} colder") if colder else _("{by} warmer")).format(by=by)


def highest() -> str:
    return _("highest")


def power(pct: str) -> str:
    return _("{pct} %").format(pct=pct)


def at_rpm(rpm: str) -> str:
    return _("{rpm} rpm").format(rpm=rpm)


def reach_to(pct: str, altitude: str, air: str, *, capped: bool) -> str:
    said = (
        _("{pct} % can be had to {altitude} pressure altitude in {air} air, where plan or chart ends.")
        if capped
        else _("{pct} % can be had to {altitude} pressure altitude in {air} air.")
    )
    return said.format(pct=pct, altitude=altitude, air=air)


def reach_none(pct: str, lowest: str, air: str) -> str:
    return _("{pct} % is not to be had at or above {lowest}, the lowest sensible altitude, in {air} air.").format(
        pct=pct, lowest=lowest, air=air
    )


def not_had() -> str:
    return _("not to be had")


def off_chart() -> str:
    return _("off the chart")


def expect_flow(low: str, high: str) -> str:
    if low == high:
        return _("Expect about {low}, 100 °F (56 °C) rich of peak.").format(low=low)
    return _("Expect about {low} to {high}, 100 °F (56 °C) rich of peak.").format(low=low, high=high)


def not_achievable(best: str, lowest: str, least: str) -> str:
    return _(
        "75 % is not achievable today: at most {best} % at {lowest}, the lowest sensible altitude; {least} % is the "
        "least that counts."
    ).format(best=best, lowest=lowest, least=least)


def higher_rpm(rpm: str) -> str:
    return _("Higher rpm: {rpm} or more, where the maker allows it continuously.").format(rpm=rpm)


def cooler_hour(oat: str, altitude: str) -> str:
    return _("A cooler hour: {oat} or less at {altitude}.").format(oat=oat, altitude=altitude)


def lower_field(altitude: str) -> str:
    return _("A lower field: at or below {altitude} pressure altitude.").format(altitude=altitude)


def nothing_alone() -> str:
    return _("Neither more rpm, a cooler hour nor a lower field is enough alone: call the shop.")


def leaning() -> str:
    return _(
        "Look for the first peak only at 75 % or less, and only where the maker and the POH/AFM allow it; never in the "
        "full-throttle climb."
    )


def cap_note() -> str:
    return _("pressure altitude; cooling ends there before power does")


# --- Heat and oil ---


def level_cruise() -> str:
    return _("Level cruise")


def no_hotter_in_cruise(hours: str) -> str:
    # Rule E2.
    return _("hotter in level cruise after {hours} h is watched; the second time, call").format(hours=hours)


def expected_early(hours: str) -> str:
    return _("seen in the first {hours} h, and no reason to throttle back").format(hours=hours)


def watch_note() -> str:
    # Rule E2: more than 5 min in the climb or 2 min level.
    return _("ours: over it 5 min in the climb or 2 min level, call before the next flight")


def limit_note() -> str:
    return _("the maker's: over it, land")


def limit_unknown() -> str:
    return _("no limit is on file here")


def one_head_only() -> str:
    return _("not fitted on each cylinder: what one gauge shows need not be the hottest head")


def turbine_note() -> str:
    return _("the maker's: never over it")


def oil_temperature_note(line: str) -> str:
    # Rule E5.
    return _("at most; if it never gets over {line} in flight, water stays in it").format(line=line)


def oil_pressure_note(idle: str) -> str:
    return _("in flight; at hot idle {idle} or more").format(idle=idle)


def ignore(spread: str) -> str:
    return _("EGT spread of ± {spread} between cylinders: ignore it.").format(spread=spread)


# --- What this engine and this day ask for ---


def turbo_cautions() -> tuple[str, ...]:
    return (
        _(
            "Turbocharger: move the throttle slowly, and keep to the altitude limit: above it there is power and no "
            "cooling."
        ),
        _("Cool the turbocharger down as the maker asks, within the ground minutes."),
    )


def carburettor() -> str:
    return _("Carburettor: heat as the POH/AFM says. Heat costs power, so set the power anew after it.")


def dry_sump() -> str:
    return _("Dry sump: bring the oil back to the tank as the maker says before reading it.")


def cold_day(line: str) -> str:
    return _(
        "Cold air: warm the engine before the start as the maker says, and fit the winter kit. Oil that stays under "
        "{line} keeps its water. Cold air gives more power for the same setting: go by this card."
    ).format(line=line)


def hot_day() -> str:
    return _("Hot air: go early in the day, and let nobody wait on the taxiway; minutes on the ground glaze the bores.")
