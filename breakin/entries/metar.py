"""A weather report (METAR) as it was pasted: its station, its time, the temperature and the altimeter setting.

Decoded by the library `metar` to the WMO Manual on Codes (WMO-No. 306) and its United States variant; all other groups
are left alone. The report has a day and no month: it is taken as the last such day.
"""

from __future__ import annotations

import re
import warnings
from dataclasses import dataclass
from datetime import datetime, timedelta

from metar.Metar import Metar

from shop.errors import Refusal

LONGEST = 600
# A report that is older says little of the air now: own choice, no published source.
FRESH = timedelta(hours=3)
# Clocks differ a little, and reports are made a few minutes before their hour.
AHEAD = timedelta(hours=1)
FIELD = "metar"
_TIME = re.compile(r"\b\d{6}Z\b")

# The library warns of each group that it can't read; what is lacking is refused below in words.
warnings.filterwarnings("ignore", category=RuntimeWarning, module=r"metar\.Metar")


@dataclass(frozen=True)
class WeatherReport:
    """station : its four letters. at : when it was observed. oat_degf : [degF]; altimeter_inhg : [inHg]; each None
    where the report does not give it.
    """

    station: str
    at: datetime
    oat_degf: float | None
    altimeter_inhg: float | None

    def is_old(self, now: datetime) -> bool:
        return now - self.at > FRESH


def read_metar(text: str, now: datetime) -> WeatherReport:
    """Read a pasted report.

    Raises
    ------
    Refusal : it is no weather report, holds more than one, or gives neither temperature nor altimeter setting.
    """
    code = " ".join(text.upper().split()).rstrip("= ")
    if len(code) > LONGEST:
        raise Refusal.of(FIELD, f"This is longer than a weather report ({LONGEST} characters). Paste one METAR only.")
    times = _TIME.findall(code)
    if len(times) > 1:
        raise Refusal.of(FIELD, "This holds more than one report. Paste the newest METAR only.")
    if code.startswith("TAF"):
        raise Refusal.of(FIELD, "This is a forecast (TAF). Paste the observed weather, a METAR.")
    report = Metar(code, strict=False)
    station, time = report.station_id, report.time
    if not times or station is None or time is None:
        raise Refusal.of(
            FIELD,
            "This can't be read as a METAR: it begins with the station's four letters and the day and time, as in "
            "“QXTF 281753Z”. Paste it whole, or type temperature and altimeter setting instead.",
        )
    oat = None if report.temp is None else float(report.temp.value("F"))
    setting = None if report.press is None else float(report.press.value("IN"))
    if oat is None and setting is None:
        raise Refusal.of(
            FIELD,
            "This report gives neither a temperature nor an altimeter setting. Paste it whole, or type them instead.",
        )
    return WeatherReport(str(station), _when(time, now), oat, setting)


def _when(time: datetime, now: datetime) -> datetime:
    """The last such day, hour and minute (UTC) up to an hour from now."""
    month = now.replace(day=1, hour=time.hour, minute=time.minute, second=0, microsecond=0)
    while True:
        try:
            found = month.replace(day=time.day)
        except ValueError:  # that month is too short
            found = None
        if found is not None and found <= now + AHEAD:
            return found
        month = (month - timedelta(days=1)).replace(day=1)
