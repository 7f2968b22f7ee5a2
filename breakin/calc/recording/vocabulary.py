"""What columns of recordings are called, in English, German and French, and how large their numbers can be."""

from __future__ import annotations

import re
import unicodedata
from dataclasses import dataclass

_NOT_FLOW = (
    "used|rem|remaining|qty|quantity|level|press|pressure|p|temp|l|r|left|right|total|to dest|vorrat|menge|druck"
)
PATTERNS: tuple[tuple[str, str], ...] = (
    ("latitude", "lat|latitude|breite|breitengrad"),
    ("longitude", "lon|lng|long|longitude|laenge|laengengrad"),
    ("", rf"(fuel|kraftstoff|carburant|essence) ({_NOT_FLOW}|restant)"),
    ("", "usd|rem|dif|diff|spread|volts?|amps?|bat|batt|battery|bus|aux|shock|cool|cld|crb|carb|cdt|iat|vsi|vs|vario"),
    ("", "pitch|roll|heading|hdg|track|trk|course|wind|hp|hobbs|tach time"),
    ("tit", r"tit|turbine( in(let)?)?( temp(erature)?)?|turbineneintritt\w*|t it"),
    ("cht", r"cht|cyl(inder)? head|cylinder head temp\w*|head|zkt|(zylinder)?kopf\w*|culasses?|tct|t culasse|ktc"),
    ("egt", r"egt|exh|exhaust|exhaust gas\w*|stack|agt|abgas\w*|echappement|echapp?|gaz|t gaz|tge"),
    ("oil_press", r"oil ?p(res\w*)?|oil pressure|op|oilp|p oel|p ol|oel ?druck|ol ?druck|oeldr\w*"),
    ("oil_press", r"huile p\w*|p(ression)? huile|pre?s? huile"),
    ("oil_temp", r"oil ?(t(emp\w*)?|deg)|oil temperature|ot|oilt|t oel|t ol|oel ?temp\w*|ol ?temp\w*|oelt"),
    ("oil_temp", r"huile t\w*|t(emp\w*)? huile|temperature huile"),
    ("oat", r"oat|outside( air)?( temp\w*)?|amb(ient)?( temp\w*)?|t aussen|aussen ?(luft)?(temp\w*)?|air temp\w*|sat"),
    ("oat", r"t ?ext|ext(erieure?)?|temp ext\w*"),
    ("fuel_flow", r"ff|fuel ?flow|fflow|flow|durchfluss|(kraftstoff)?verbrauch|kraftstoff(fluss)?|debit|conso\w*|fuel"),
    ("fuel_flow", "gph|lph"),
    (
        "manifold_pressure",
        r"map|mp|manifold( abs\w*)?( press\w*)?|man ?(p|press|pressure)|boost( line)?|intake( abs\w*)?( press\w*)?",
    ),
    ("manifold_pressure", r"ladedruck|saugrohr\w*|p ?adm|pression adm\w*|admission|pa"),
    ("rpm", r"rpm|revs?|(engine|crank|eng) ?speed|n ?(eng|mot)|\w*drehzahl|dz|regime|tours?|tr min|umdr\w*"),
    ("alt", r"alt|altitude|p ?alt|press ?alt\w*|baro ?alt\w*|height|hoehe|druckhoehe|hauteur|alti"),
    ("airspeed", "ias|cas|airspeed|air ?spe?e?d|indicated (air)?speed|spd|fahrt|vitesse|vi|speed|kias"),
    ("date", "date|datum|day|jour|lcl date|utc date"),
    ("time", "time|zeit|uhrzeit|heure|clock|timestamp|datetime|secs?|seconds?|sekunden|elapsed|temps|utc|zulu|hms"),
)
"""Channel and the words that name it, in the order they are tried; "" is a column that is none of ours."""

RANGES: dict[str, tuple[float, float]] = {
    "rpm": (300.0, 6500.0),
    "manifold_pressure": (5.0, 1700.0),
    "fuel_flow": (1.0, 400.0),
    "oil_temp": (15.0, 300.0),
    "oil_press": (1.0, 900.0),
    "tit": (200.0, 2000.0),
    "cht": (40.0, 600.0),
    "egt": (200.0, 2000.0),
    "oat": (-60.0, 130.0),
    "alt": (-1500.0, 45_000.0),
    "airspeed": (20.0, 600.0),
    "latitude": (-90.0, 90.0),
    "longitude": (-180.0, 180.0),
}
"""What the highest value of a column with the engine running lies between, in any of the units of its channel (common
practice, no source)."""

_GROUND = re.compile(r"\b(gps|gnd|ground|gs|tas|true)\b")
_SIDES = {
    "1": r"\b(e|eng|engine|mot|moteur|motor|triebwerk|tw) ?1\b|\b(l|left|lh|links|li|gauche|g)\b",
    "2": r"\b(e|eng|engine|mot|moteur|motor|triebwerk|tw) ?2\b|\b(r|right|rh|rechts|re|droite|droit|d)\b",
}
_SIDE_FIRST = re.compile(
    r"^((e|eng|engine|mot|moteur|motor|triebwerk|tw) ?[12]|l|r|left|right|lh|rh|links|rechts|li|re|gauche|droite?|g|d) "
)
_SIDE_AT_END = r"\b(rpm|map|mp|ff|fuel ?flow|oil ?[tp]\w*|drehzahl|ladedruck|regime|tit) ?([12])\b"


@dataclass(frozen=True)
class Named:
    """What a name says: the channel, the engine, the cylinder, and whether it is of second choice (over the ground)."""

    channel: str
    engine: str | None
    cylinder: int | None
    second: bool = False


def plain(name: str) -> str:
    """A name without case, accents, units in brackets and punctuation; digits stand alone.

    >>> plain("E1 Öl-Temp. (°C)")
    'e 1 oel temp'
    """
    text = re.sub(r"[\[(][^\])]*[\])]", " ", name)
    text = re.sub(r"(?<=[a-z])(?=[A-Z][a-z])", " ", text)
    for letter, as_two in (("ä", "ae"), ("ö", "oe"), ("ü", "ue"), ("ß", "ss"), ("Ä", "ae"), ("Ö", "oe"), ("Ü", "ue")):
        text = text.replace(letter, as_two)
    text = unicodedata.normalize("NFKD", text).encode("ascii", "ignore").decode().casefold()
    text = re.sub(r"[^a-z0-9]+", " ", text)
    text = re.sub(r"(?<=[a-z])(?=[0-9])|(?<=[0-9])(?=[a-z])", " ", text)
    return re.sub(r"\s+", " ", text).strip()


def named(name: str) -> Named | None:
    """What the name of a column says, or None.

    >>> named("L CHT 3")
    Named(channel='cht', engine='1', cylinder=3, second=False)
    >>> named("E2 Ladedruck").channel
    'manifold_pressure'
    """
    text = plain(name)
    first = _SIDE_FIRST.match(text)
    where = first[0] if first else text
    engine = next((side for side, pattern in _SIDES.items() if re.search(pattern, where)), None)
    rest = _SIDE_FIRST.sub("", text)
    short = re.fullmatch(r"([chxe]) (\d{1,2})", rest)
    if short:
        return Named("cht" if short[1] in "ch" else "egt", engine if first else None, int(short[2]))
    if rest == "n":
        return Named("rpm", engine, None)
    for channel, pattern in PATTERNS:
        found = re.search(rf"\b({pattern})\b", rest)
        if not found:
            continue
        if not channel:
            return None
        cylinder = None
        if channel in ("cht", "egt"):
            digits = re.findall(r"\b(\d{1,2})\b", rest)
            cylinder = int(digits[-1]) if digits and 1 <= int(digits[-1]) <= 12 else None
        elif engine is None and (side := re.search(_SIDE_AT_END, rest)):
            engine = side[2]
        if channel in ("latitude", "longitude", "oat", "alt", "airspeed", "date", "time"):
            engine = None
        return Named(channel, engine, cylinder, bool(_GROUND.search(rest)))
    return None
