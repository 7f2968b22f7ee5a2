"""What the pilot does, leg by leg: seconds, power, propeller, mixture, path and speed."""

from __future__ import annotations

from dataclasses import dataclass, field, replace

FULL = 99.0  # manifold pressure that no throttle gives: wide open


@dataclass(frozen=True)
class Air:
    """field_ft : pressure altitude of the field [ft]. field_degf : temperature there. lapse : [ddegF per 1,000 ft]."""

    field_ft: float
    field_degf: float
    lapse: float = -3.57

    def oat(self, alt_ft: float) -> float:
        return self.field_degf + self.lapse * (alt_ft - self.field_ft) / 1000


@dataclass(frozen=True)
class Leg:
    """seconds at a setting. Power is `pct` (solved for each engine) or `map_inhg`; rates are for each second."""

    seconds: int
    phase: str
    rpm: float
    pct: float | None = None
    map_inhg: float | None = None
    x: float | str = "part"  # a mixture, or the engine's own: "full", "part", "idle"
    climb_fpm: float = 0.0
    ias: float = 0.0
    map_rate: float = 0.25
    rpm_rate: float = 15.0
    x_rate: float = 0.02
    block: bool = False  # a setting of the cruise
    leaning: bool = False


@dataclass
class Script:
    """Legs in order, and the height at which the next one starts. Each method adds legs and returns the script."""

    air: Air
    rated_rpm: float
    climb_ias: float = 84.0
    cruise_ias: float = 115.0
    legs: list[Leg] = field(default_factory=list)
    alt_ft: float = 0.0

    def __post_init__(self) -> None:
        self.alt_ft = self.air.field_ft

    def add(self, leg: Leg) -> Script:
        self.legs.append(leg)
        self.alt_ft += leg.climb_fpm / 60 * leg.seconds
        return self

    def off(self, seconds: int) -> Script:
        return self.add(Leg(seconds, "off", 0, map_inhg=0, x="idle", rpm_rate=900, map_rate=4))

    def start(self, seconds: int, rpm: float = 1000, map_inhg: float = 12.0) -> Script:
        return self.add(Leg(seconds, "start", rpm, map_inhg=map_inhg, x="idle", map_rate=4, rpm_rate=350))

    def taxi(self, seconds: int, rpm: float = 1150, map_inhg: float = 12.9, ias: float = 0) -> Script:
        return self.add(Leg(seconds, "taxi", rpm, map_inhg=map_inhg, x="idle", rpm_rate=80, map_rate=1, ias=ias))

    def run_up(self, seconds: int, rpm: float = 1900, map_inhg: float = 17.9) -> Script:
        return self.add(Leg(seconds, "runup", rpm, map_inhg=map_inhg, x="idle", rpm_rate=180, map_rate=2.5))

    def roll(self, seconds: int = 30) -> Script:
        return self.add(
            Leg(seconds, "takeoff", self.rated_rpm * 0.988, map_inhg=FULL, x="full", ias=72, map_rate=4, rpm_rate=150)
        )

    def climb(self, to_ft: float, fpm: float = 750, *, pct: float | None = None, rpm: float | None = None) -> Script:
        """At full throttle, or at a percentage."""
        seconds = max(int((to_ft - self.alt_ft) / fpm * 60), 1)
        full = pct is None
        return self.add(
            Leg(
                seconds, "climb", rpm or self.rated_rpm * 0.988, pct=pct, map_inhg=FULL if full else None,
                x="full" if full else "part", climb_fpm=fpm, ias=self.climb_ias, map_rate=1.5,
            )
        )  # fmt: skip

    def step(self, seconds: int, pct: float, rpm: float) -> Script:
        """Level off for a while in the climb."""
        return self.add(Leg(seconds, "climb", rpm, pct=pct, ias=self.climb_ias + 16))

    def level(self, seconds: int, pct: float, rpm: float) -> Script:
        """Speed is gained before the mixture is touched."""
        return self.add(Leg(seconds, "level", rpm, pct=pct, ias=self.cruise_ias, block=True))

    def cruise(self, seconds: int, pct: float, rpm: float, *, x: float | str = 1.0, map_rate: float = 0.25) -> Script:
        return self.add(Leg(seconds, "cruise", rpm, pct=pct, ias=self.cruise_ias, block=True, x=x, map_rate=map_rate))

    def rich(self, seconds: int, pct: float, rpm: float) -> Script:
        return self.cruise(seconds, pct, rpm, x="part")

    def lean(self, pct: float, rpm: float, *, to_x: float, from_x: float, speed: float, back_to: float = 1.0) -> Script:
        """Lean slowly from the engine's rich mixture until the last number, then enrich to `back_to`."""
        first = Leg(0, "cruise", rpm, pct=pct, ias=self.cruise_ias, block=True)
        self.add(replace(first, seconds=int((from_x - to_x) / speed) + 3, x=to_x, x_rate=speed, leaning=True))
        self.add(replace(first, seconds=int(abs(back_to - to_x) / 0.0035) + 5, x=back_to, x_rate=0.0035))
        return self

    def descend(
        self, to_ft: float, fpm: float = 500, *, pct: float, rpm: float, faster: float = 11, map_rate: float = 0.25
    ) -> Script:
        seconds = max(int((self.alt_ft - to_ft) / fpm * 60), 1)
        return self.add(
            Leg(seconds, "descent", rpm, pct=pct, climb_fpm=-fpm, ias=self.cruise_ias + faster, x=1.02,
                map_rate=map_rate)
        )  # fmt: skip

    def approach(self, seconds: int, pct: float, rpm: float, *, to_ft: float | None = None) -> Script:
        fall = self.alt_ft - (self.air.field_ft if to_ft is None else to_ft)
        part = seconds // 2
        self.add(Leg(part, "approach", rpm, pct=pct, ias=95, climb_fpm=-fall / 2 / part * 60, x=1.05, map_rate=1))
        rest = seconds - part
        return self.add(
            Leg(rest, "approach", rpm, pct=pct * 0.6, ias=72, climb_fpm=-fall / 2 / rest * 60, x="part", map_rate=1)
        )

    def landing(self, seconds: int = 35) -> Script:
        self.alt_ft = self.air.field_ft
        return self.add(Leg(seconds, "landing", 900, map_inhg=11.3, x="idle", rpm_rate=150, map_rate=2))
