"""What was typed of a run beside what its recording says. Typed values stay as they are; here is which of them judges.

A recording goes before what was typed. Where a limit of the maker is at stake, the worse of the two is judged by: a
pilot who saw a head over its limit is not talked out of it by a probe.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass

from breakin.calc.recording.result import EngineFlight, Piece
from breakin.calc.said import Said, Value, joined, said
from breakin.record import RunFacts

RECORDED, TYPED = "recorded", "typed"


@dataclass(frozen=True)
class Told:
    """One figure as it was typed and as it was recorded; None where it was not."""

    typed: float | None = None
    recorded: float | None = None

    @property
    def value(self) -> float | None:
        """What judges: the recording where there is one."""
        return self.recorded if self.recorded is not None else self.typed

    @property
    def highest(self) -> float | None:
        return max((value for value in (self.typed, self.recorded) if value is not None), default=None)

    @property
    def lowest(self) -> float | None:
        return min((value for value in (self.typed, self.recorded) if value is not None), default=None)

    @property
    def both(self) -> bool:
        return self.typed is not None and self.recorded is not None

    @property
    def grade(self) -> str:
        """Where `value` comes from: "recorded", "typed" or "" for nowhere."""
        return RECORDED if self.recorded is not None else TYPED if self.typed is not None else ""

    def words(self, measure: Callable[[float], Value]) -> Said:
        """ "421 °F recorded, 405 °F typed": what there is, with its origin."""
        told = []
        if self.recorded is not None:
            told.append(said("{value} recorded", value=measure(self.recorded)))
        if self.typed is not None:
            told.append(said("{value} typed", value=measure(self.typed)))
        return joined(told, ", ")


NOTHING = Told()


def engine_of(run: RunFacts) -> EngineFlight | None:
    """What the recording says of this engine."""
    return run.recorded.engine if run.recorded is not None else None


def _recorded(run: RunFacts, name: str) -> float | None:
    engine = engine_of(run)
    value = getattr(engine, name) if engine is not None else None
    return None if value is None else float(value)


def takeoff_fuel_flow(run: RunFacts) -> Told:
    """Full-throttle fuel flow [US gal/h]."""
    engine = engine_of(run)
    return Told(run.takeoff_ff_gph, engine.takeoff.fuel_flow_gph if engine else None)


def takeoff_rpm(run: RunFacts) -> Told:
    engine = engine_of(run)
    return Told(run.takeoff_rpm, engine.takeoff.rpm if engine else None)


def takeoff_manifold(run: RunFacts) -> Told:
    """Manifold pressure at full throttle [inHg]."""
    engine = engine_of(run)
    return Told(run.takeoff_map_inhg, engine.takeoff.map_inhg if engine else None)


def hottest_head(run: RunFacts) -> Told:
    """[degF]"""
    return Told(run.cht_max_degf, _recorded(run, "cht_max_degf"))


def oil_temperature(run: RunFacts) -> Told:
    """Highest [degF]."""
    return Told(run.oil_temp_max_degf, _recorded(run, "oil_temp_max_degf"))


def oil_pressure(run: RunFacts) -> Told:
    """Lowest in flight [psi]."""
    return Told(run.oil_press_min_psi, _recorded(run, "oil_press_min_psi"))


def oil_pressure_idle(run: RunFacts) -> Told:
    """Lowest at hot idle [psi]."""
    return Told(run.oil_press_idle_psi, _recorded(run, "oil_press_idle_psi"))


def turbine_inlet(run: RunFacts) -> Told:
    """Highest [degF]."""
    return Told(run.tit_max_degf, _recorded(run, "tit_max_degf"))


def airborne(run: RunFacts) -> Told:
    """[min]"""
    return Told(run.airborne_min, _recorded(run, "airborne_min"))


def sessions_min(run: RunFacts) -> tuple[float, ...]:
    """Minutes of each time on the ground with the engine running, recorded where that is told."""
    engine = engine_of(run)
    if engine is None:
        return run.sessions_min
    if not run.is_flight and engine.run_min > 0:
        return (engine.run_min,)
    pairs = (
        (engine.ground_before_min, run.ground_before_min),
        (engine.ground_after_min, run.ground_after_min),
    )
    told = (recorded if recorded is not None else typed for recorded, typed in pairs)
    return tuple(minutes for minutes in told if minutes is not None)


def measures_power(run: RunFacts) -> bool:
    """Can the recording say at what power the engine ran? Else what was typed or stated stands."""
    engine = engine_of(run)
    return engine is not None and any(piece.pct is not None for piece in engine.pieces)


def evidence_grade(run: RunFacts) -> str:
    """The grade of what is known of a run: a recording is the best evidence there is."""
    return "A" if run.recorded is not None else run.grade


def level_cruise(engine: EngineFlight) -> tuple[Piece, ...]:
    """Steady pieces of level cruise."""
    return tuple(piece for piece in engine.pieces if piece.phase == "cruise" and piece.steady)


def mean_heads_degf(pieces: Iterable[Piece]) -> tuple[float | None, ...]:
    """Mean of each head over some pieces, weighted by their minutes [degF]; None for a head without a reading."""
    told = [piece for piece in pieces if piece.cht_degf and piece.minutes > 0]
    heads: list[float | None] = []
    for place in range(max((len(piece.cht_degf) for piece in told), default=0)):
        known = [(piece.minutes, piece.cht_degf[place]) for piece in told if place < len(piece.cht_degf)]
        pairs = [(minutes, value) for minutes, value in known if value is not None]
        weight = sum(minutes for minutes, _ in pairs)
        heads.append(sum(minutes * value for minutes, value in pairs) / weight if weight else None)
    return tuple(heads)


def cruise_head_degf(run: RunFacts) -> float | None:
    """The hottest head in level cruise [degF]: recorded where that is told, else as typed."""
    engine = engine_of(run)
    if engine is not None:
        heads = [value for value in mean_heads_degf(level_cruise(engine)) if value is not None]
        if heads:
            return max(heads)
    typed = [run.cht_cruise_mean_degf, *(block.cht_max_degf for block in run.blocks)]
    return max((value for value in typed if value is not None), default=None)
