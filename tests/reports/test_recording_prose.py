"""What a reading kept in English and US units is read in German and SI units, also where a phrase stands in another."""

from __future__ import annotations

import pytest
from django.utils import translation

from reports.recordings.prose import phrase_of, said_again, said_each


@pytest.mark.parametrize(
    ("kept", "read"),
    [
        ("The clock passed midnight.", "Die Uhr ging über Mitternacht."),
        ("1,204 rows without a time were left out.", "1.204 Zeilen ohne Zeit wurden weggelassen."),
        (
            "stood at 392 degF for 14 min while the other CHT probes moved by 90 degF: stuck",
            "blieb 14 min bei 200 °C, während sich die anderen Fühler (Zylinderkopftemperatur) um 50 °C "
            "bewegten: hängt",
        ),
        (
            "With the engine stopped, manifold pressure read 0.8 inHg high for the recorded altitude; it was corrected "
            "by that.",
            "Bei stehendem Motor zeigte der Ladedruck für die aufgezeichnete Höhe 27 hPa zu viel; er wurde darum "
            "berichtigt.",
        ),
        ("named as oil temp, and its values fit", "dem Namen nach Öltemperatur, und die Werte passen"),
    ],
)
def test_a_kept_sentence_is_read_in_german_and_si_units(kept: str, read: str) -> None:
    with translation.override("de"):
        assert said_again(kept, "si") == read


def test_ways_of_knowing_power_are_read_one_by_one() -> None:
    kept = (
        "power by chart from engine speed and density, standard temperature taken; fuel flow with a mixture factor "
        "agrees within 4 %"
    )
    with translation.override("de"):
        assert said_each(kept) == (
            "Leistung nach Diagramm aus Drehzahl und Luftdichte, Standardtemperatur angenommen; Kraftstofffluss mit "
            "einem Gemischfaktor stimmt auf 4 % überein"
        )


def test_english_in_us_units_and_what_is_no_phrase_stand_as_they_are() -> None:
    assert said_again("The clock passed midnight.") == "The clock passed midnight."
    assert phrase_of("Nobody says this.") == ""
    with translation.override("de"):
        assert said_again("Nobody says this.", "si") == "Nobody says this."
        assert said_again(None) == ""
