"""The part of a flight's form that is about one engine, and the rows of its power blocks."""

from __future__ import annotations

from typing import Any, ClassVar

from django import forms
from django.urls import reverse
from django.utils.html import format_html
from django.utils.translation import gettext as _
from django.utils.translation import gettext_lazy, pgettext_lazy

from breakin.calc.units import Kind, display_unit, from_canonical
from breakin.entries.oil import BELLY_WORDS
from breakin.models import Container, CowlFlaps, FlightEngine, IssuedCard, Mixture, OilEvent, OilKind
from reports.forms.fields import ChoiceChips, NumberField, QuantityField, Steps
from reports.pilot.log_flight_page import EngineSection
from reports.quantities import quantity
from shop import written
from shop.forms import BookForm
from shop.templatetags.words import localwhen

CARD = (
    ("yes", gettext_lazy("Yes, as on the card")),
    ("no", gettext_lazy("No, something else")),
    ("unknown", gettext_lazy("I did not note it")),
)
NO_CARD = (("no", gettext_lazy("I type what was flown")), ("unknown", gettext_lazy("I did not note it")))
SINCE_STOP = (
    ("<10", gettext_lazy("under 10 min")),
    ("10-30", gettext_lazy("10 to 30 min")),
    ("30-120", gettext_lazy("30 min to 2 h")),
    ("overnight", gettext_lazy("overnight")),
)
PROTOCOL = (
    ("good", gettext_lazy("level ground, wiped twice")),
    ("sloping", gettext_lazy("sloping ground")),
    ("unsure", gettext_lazy("not sure")),
)
ADDED = (
    ("none", pgettext_lazy("oil added", "none")),
    ("1", gettext_lazy("one")),
    ("2", gettext_lazy("two")),
    ("other", gettext_lazy("another amount")),
)
POURED = (("before", gettext_lazy("before this flight")), ("after", gettext_lazy("after landing")))
BELLY = tuple(
    zip(BELLY_WORDS, (label for _value, label in OilEvent._meta.get_field("belly_oil").flatchoices), strict=True)
)
CONTAINERS = tuple((value, label) for value, label in Container.choices if value != Container.MEASURED)
CHT_OVER = tuple(FlightEngine._meta.get_field("cht_over_watch").flatchoices)
CHT_FALLING = tuple(FlightEngine._meta.get_field("cht_falling_by_3000").flatchoices)
CLIMB_FT = (1000, 2000, 3000, 4000)
MOST_BLOCKS = 12

OIL_FIELDS = (
    "oil_level", "minutes_since", "protocol", "added", "poured", "amount", "container", "oil_kind", "brand", "belly",
)  # fmt: skip
HABITS = ("minutes_since", "protocol")  # what a pilot does in the same way each time: taken from his last reading
HEAT_FIELDS = ("takeoff_ff", "cht_max", "cht_over_watch", "cht_falling")
MORE_FIELDS = (
    "meter_start", "takeoff_rpm", "takeoff_map", *(f"climb_{ft}" for ft in CLIMB_FT), "cht_cruise_mean", "oil_temp_max",
    "oil_press_min", "oil_press_idle", "tit_max",
)  # fmt: skip


class BlockForm(BookForm):
    """Some minutes at one setting. A row that is left empty is no block."""

    NAMES: ClassVar[tuple[str, ...]] = (
        "duration", "map", "rpm", "pressure_altitude", "oat", "fuel_flow", "mixture", "cowl_flaps", "cht_max",
    )  # fmt: skip

    def __init__(self, *args: Any, section: EngineSection, system: str, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        fitted = section.installation
        self.fields["duration"] = NumberField(label=_("Minutes"), unit="min")
        if fitted.has_map:
            self.fields["map"] = QuantityField(Kind.PRESSURE_MANIFOLD, system, units=(), label=_("Manifold pressure"))
        self.fields["rpm"] = NumberField(label=_("rpm"), unit="rpm")
        self.fields["pressure_altitude"] = QuantityField(Kind.ALTITUDE, system, units=(), label=_("Pressure altitude"))
        self.fields["oat"] = QuantityField(Kind.TEMPERATURE, system, units=(), label=_("Outside air"))
        if fitted.has_fuel_flow:
            self.fields["fuel_flow"] = QuantityField(Kind.FUEL_FLOW, system, units=(), label=_("Fuel flow"))
        self.fields["mixture"] = forms.ChoiceField(
            label=_("Mixture"), required=False, choices=[("", _("not noted")), *Mixture.choices]
        )
        self.fields["cowl_flaps"] = forms.ChoiceField(
            label=_("Cowl flaps"), required=False, choices=[("", _("not noted")), *CowlFlaps.choices]
        )
        self.fields["cht_max"] = QuantityField(Kind.TEMPERATURE, system, units=(), label=_("Hottest head"))
        for name in ("rpm", "duration"):
            self.fields[name].widget.attrs["inputmode"] = "numeric"

    def is_empty(self) -> bool:
        """Nothing typed in this row."""
        return not any(self.cleaned_data.get(name) for name in self.fields)

    def more(self) -> list[forms.BoundField]:
        return [self[name] for name in ("mixture", "cowl_flaps", "cht_max")]

    def main(self) -> list[forms.BoundField]:
        return [self[name] for name in self.fields if name not in ("mixture", "cowl_flaps", "cht_max")]


class EngineForm(BookForm):
    """Clock, power, take-off and heat, oil of one engine on one flight.

    With `oil` False it has no oil fields: a correction of a flight leaves its oil entries alone.
    """

    def __init__(self, *args: Any, section: EngineSection, system: str, oil: bool = True, **kwargs: Any) -> None:
        kwargs["prefix"] = section.key
        super().__init__(*args, **kwargs)
        self.section = section
        self.system = system
        # The card that was meant when the form was made: it may be sent days later.
        self.fields["card"] = _card_field(section)
        self._clock_and_power()
        self._heat()
        if oil:
            self._oil()
        self._more()

    def _clock_and_power(self) -> None:
        section = self.section
        if section.has_meter:
            last = section.last_meter_h
            hint = (
                _("Last reading on record: %(hours)s h.") if last is not None else _("No earlier reading is on record.")
            )
            hint %= {"hours": "" if last is None else written.number(last, 1)}
            self.fields["meter_end"] = NumberField(
                label=_("%(clock)s at the end") % {"clock": _capital(section.clock)},
                unit="h",
                help_text=hint,
                steps=Steps("0.1", "0", start="" if last is None else written.digits(f"{last:.1f}")),
            )
        card = section.card
        self.fields["as_on_card"] = ChoiceChips(
            label=_("Power flown as on the card?") if card else _("Power settings"),
            choices=CARD if card else NO_CARD,
            help_text=_card_help(card) if card and not self.chooses_card else "",
        )

    def _heat(self) -> None:
        section, system, kind = self.section, self.system, self.section.type_revision
        if section.installation.has_fuel_flow:
            band = _band(kind.takeoff_ff_low_gph, kind.takeoff_ff_high_gph, "fuel_flow", system) if kind else ""
            self.fields["takeoff_ff"] = QuantityField(
                Kind.FUEL_FLOW, system, label=_("Fuel flow at full throttle"), help_text=band, steps=Steps("0.1", "0")
            )
        watch = kind.cht_watch_degf if kind else None
        lines = []
        if kind and kind.cht_watch_degf:
            lines.append(_("watch line %(line)s") % {"line": quantity(kind.cht_watch_degf, "temperature", system)})
        if kind and kind.cht_limit_degf:
            lines.append(_("maker's limit %(limit)s") % {"limit": quantity(kind.cht_limit_degf, "temperature", system)})
        start = "" if watch is None else _number(watch - 20, Kind.TEMPERATURE, system, 0)
        self.fields["cht_max"] = QuantityField(
            Kind.TEMPERATURE,
            system,
            label=_("Highest head temperature (CHT)"),
            help_text=_sentence(", ".join(lines)),
            steps=Steps("5", "0", start=start),
        )
        line = quantity(watch, "temperature", system) if watch else _("the watch line")
        self.fields["cht_over_watch"] = ChoiceChips(
            label=_("How long over %(line)s?") % {"line": line},
            choices=CHT_OVER,
            help_text=_("Leave it if the highest was below that."),
        )
        self.fields["cht_falling"] = ChoiceChips(
            label=_("CHT falling by 3,000 ft above the field?"), choices=CHT_FALLING
        )

    def _oil(self) -> None:
        add_oil_fields(self, self.section, self.system)
        for name in HABITS:
            if self.initial.get(name):
                self.fields[name].help_text = _("As last time. Change it if it was otherwise today.")

    def _more(self) -> None:
        system, fitted = self.system, self.section.installation
        if self.section.has_meter:
            self.fields["meter_start"] = NumberField(
                label=_("%(clock)s at the start") % {"clock": _capital(self.section.clock)},
                unit="h",
                help_text=_("Only if it was not the last reading."),
            )
        self.fields["takeoff_rpm"] = NumberField(label=_("rpm at take-off"), unit="rpm")
        if fitted.has_map:
            self.fields["takeoff_map"] = QuantityField(
                Kind.PRESSURE_MANIFOLD, system, label=_("Manifold pressure at take-off")
            )
        for feet in CLIMB_FT:
            self.fields[f"climb_{feet}"] = QuantityField(
                Kind.TEMPERATURE,
                system,
                label=_("Hottest head at %(feet)s above the field") % {"feet": quantity(feet, "altitude", system)},
            )
        self.fields["cht_cruise_mean"] = QuantityField(Kind.TEMPERATURE, system, label=_("Mean of the heads in cruise"))
        self.fields["oil_temp_max"] = QuantityField(Kind.TEMPERATURE, system, label=_("Highest oil temperature"))
        self.fields["oil_press_min"] = QuantityField(
            Kind.OIL_PRESSURE, system, label=_("Lowest oil pressure in flight")
        )
        self.fields["oil_press_idle"] = QuantityField(Kind.OIL_PRESSURE, system, label=_("Oil pressure at idle, hot"))
        if fitted.has_tit:
            self.fields["tit_max"] = QuantityField(
                Kind.TEMPERATURE, system, label=_("Highest turbine inlet temperature")
            )

    @property
    def chooses_card(self) -> bool:
        """Could more than one card have been flown?"""
        return not self.fields["card"].widget.is_hidden

    @property
    def card_meant(self) -> str:
        """The card that "as on the card" is about: that of the form as it came, if it was made for this engine."""
        mine = self.is_bound and self.data.get(self.add_prefix("engine")) == str(self.section.engine.pk)
        posted = str(self.data.get(self.add_prefix("card")) or "") if mine else ""
        return posted or (str(self.section.card.pk) if self.section.card else "")

    def part(self, names: tuple[str, ...]) -> list[forms.BoundField]:
        return [self[name] for name in names if name in self.fields]

    @property
    def clock_fields(self) -> list[forms.BoundField]:
        return self.part(("meter_end",))

    @property
    def heat_fields(self) -> list[forms.BoundField]:
        return self.part(HEAT_FIELDS)

    @property
    def more_fields(self) -> list[forms.BoundField]:
        return self.part(MORE_FIELDS)

    @property
    def oil_fields(self) -> list[forms.BoundField]:
        return self.part(("oil_level", "minutes_since", "protocol", "added"))

    @property
    def poured_fields(self) -> list[forms.BoundField]:
        return self.part(("amount", "container", "oil_kind", "poured", "brand"))


def add_oil_fields(form: forms.Form, section: EngineSection, system: str) -> None:
    """The dipstick, what was poured and the belly: the same questions after a flight and on the oil page."""
    unit = display_unit(Kind.VOLUME, system)
    last = section.last_level_qt
    if last is not None:
        hint = _("Last time %(level)s.") % {"level": quantity(last, "volume", system)}
        start = _number(last, Kind.VOLUME, system, 2)
    else:
        hint, start = "", ""
    dry = bool(section.type_revision and section.type_revision.dry_sump)
    form.fields["oil_level"] = QuantityField(
        Kind.VOLUME,
        system,
        label=_("Oil on the dipstick"),
        help_text=hint,
        steps=Steps("0.1" if unit == "L" else "0.25", "0", start=start),
        units=("qt", "L", "imp qt", "gal") if dry else None,
    )
    form.fields["minutes_since"] = ChoiceChips(label=_("Read how long after the engine stopped?"), choices=SINCE_STOP)
    form.fields["protocol"] = ChoiceChips(label=_("How was it read?"), choices=PROTOCOL)
    form.fields["added"] = ChoiceChips(
        label=_("Oil added?"), choices=ADDED, help_text=_("Say “none” too: it is a fact.")
    )
    form.fields["amount"] = QuantityField(Kind.VOLUME, system, label=_("How much, if not one or two?"))
    form.fields["container"] = ChoiceChips(
        label=_("Container"), choices=CONTAINERS, initial=Container.US_QUART if system == "us" else Container.LITRE
    )
    planned = section.plan.get_oil_kind_display() if section.plan else ""
    form.fields["oil_kind"] = ChoiceChips(
        label=_("Which oil?"),
        choices=OilKind.choices,
        help_text=_("The plan says %(oil)s.") % {"oil": planned} if planned else "",
    )
    form.fields["poured"] = ChoiceChips(label=_("When was it poured?"), choices=POURED)
    form.fields["brand"] = forms.CharField(label=_("Brand and grade, from the bottle"), required=False, max_length=80)
    form.fields["belly"] = ChoiceChips(label=_("Oil on the belly or cowl?"), choices=BELLY)


def _card_field(section: EngineSection) -> forms.IntegerField:
    """The card that was meant when the form was made, as it may be sent days later; one of several is chosen."""
    if len(section.cards) < 2:
        return forms.IntegerField(required=False, widget=forms.HiddenInput, min_value=1)
    choices = [("", _("the newest that held at take-off")), *[(card.pk, _card_words(card)) for card in section.cards]]
    return forms.IntegerField(
        label=_("By which card?"),
        help_text=_("More than one could have been flown. Leave it if it was the newest."),
        required=False,
        min_value=1,
        widget=forms.Select(choices=choices),
    )


def _card_words(card: IssuedCard) -> str:
    return _("no. %(number)s of %(when)s: %(minutes)s") % {
        "number": card.number,
        "when": localwhen(card.issued_at),
        "minutes": minutes_words(card.minutes),
    }


def _card_help(card: IssuedCard) -> str:
    """Which card is meant, and where it stands as it was handed out. It opens beside the form, which is kept."""
    said = _("Card no. %(number)s: %(minutes)s.") % {"number": card.number, "minutes": minutes_words(card.minutes)}
    where = reverse("kept_card", args=[card.pk])
    return format_html('{} <a href="{}" target="_blank">{}</a>', said, where, _("Look at it in a new tab"))


def minutes_words(table: Any) -> str:
    """A minute table in words: "60 min at 75 %", "15 min at 75 %, 15 min at 65 %, and so on"."""
    rows = [row for row in table or [] if isinstance(row, list | tuple) and len(row) == 2]
    if not rows:
        return _("no minute table")
    said = [
        _("%(minutes)s min at %(band)s %%") % {"minutes": written.short(each), "band": band} for each, band in rows[:2]
    ]
    if len(said) == 1:
        return said[0]
    values = {"first": said[0], "second": said[1]}
    if len(rows) == 2:
        return _("%(first)s, then %(second)s") % values
    return _("%(first)s, then %(second)s, and so on") % values


def _band(low: float | None, high: float | None, kind: str, system: str) -> str:
    if low is None or high is None:
        return ""
    values = {"low": quantity(low, kind, system), "high": quantity(high, kind, system)}
    return _("For this type %(low)s to %(high)s.") % values


def _sentence(text: str) -> str:
    return f"{_capital(text)}." if text else ""


def _capital(text: str) -> str:
    return f"{text[:1].upper()}{text[1:]}"


def _number(value: float, kind: Kind, system: str, places: int) -> str:
    return written.digits(f"{from_canonical(value, display_unit(kind, system), kind):.{places}f}")
