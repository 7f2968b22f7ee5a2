"""Run-in plans that a shop starts from.

Every number is common practice of the trade without a published source, and gives way to the maker's instruction.
Sentences are kept in English and translated where a pilot reads them; what a shop writes itself stays as it wrote it.
Rates in a template are for an engine of 180 hp; the plan of a build gets its own from the engine type.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any

from django.utils.translation import gettext_noop as _

from breakin.calc.oil.ceiling import oil_limits
from breakin.models import PlanTemplate
from breakin.models.oil import OilKind
from breakin.models.plan import StageKind
from engines.models import Build, BuildKind, Finish, Induction, PropControl

SOURCE = _("Common practice, no published source; replace by the maker's instruction")
REVISION = _("shop template 1")
CREDIT = {"75": [72, 85], "65": [62, 68]}
_TEMPLATE_HP = 180.0
CHROME_ACCEPT_FACTOR = 1.5  # channel chrome keeps a higher loss for good

# Expected hours from, to, and the least before a review. Slowest first: the slowest finish fitted governs.
HOURS_BY_FINISH: dict[str, tuple[float, float, float]] = {
    Finish.CHROME: (25.0, 50.0, 25.0),
    Finish.NITRIDED: (15.0, 30.0, 15.0),
    Finish.NICKEL: (5.0, 25.0, 8.0),
    Finish.PLAIN_STEEL: (10.0, 25.0, 10.0),
    Finish.THROUGH_HARDENED: (8.0, 12.0, 8.0),
}

_MIXTURE_CLIMB = _(
    "Full rich, or as the POH/AFM says at this altitude. Never look for the peak in the full-throttle climb."
)
_MIXTURE_CRUISE = _(
    "100 °F (56 °C) rich of peak on the first cylinder to peak; look for the peak only at 75 % or less, and only if "
    "the maker and the POH/AFM allow it there."
)
_MIXTURE_NO_GAUGE = _("Rich by the rule of the POH/AFM.")
_OPEN = _("Open.")
_TRAIL = _("As the heads need; open rather than hot.")
_ABOARD_FIRST = _(
    "No passengers on the first flight, unless the local rules allow them after this work and the signatory says so. "
    "Crew only."
)
_ABOARD = _("As the local rules allow; no training, no pattern work.")
_GROUND = _(
    "Into wind, at most 10 minutes, oil temperature green before full power. No ground running to “seat” the rings."
)
_GROUND_TURBO = _(
    "Into wind, at most 10 minutes, oil temperature green before full power. No ground running to “seat” the rings. "
    "Cool the turbocharger down as the maker asks, within the ground minutes."
)


def _stage(kind: StageKind, **more: Any) -> dict[str, Any]:
    return {
        "kind": kind.value,
        "minutes": [],
        "cap_h": None,
        "rpm": None,
        "climb_to_ft": None,
        "climb_reference": "field",
        "altitude_max_ft": None,
        "mixture": "",
        "cowl_flaps": "",
        "aboard": "",
        "advice": "",
        **more,
    }


def _stages(
    mixture: str = _MIXTURE_CRUISE, altitude_max_ft: float | None = None, *, turbo: bool = False
) -> list[dict[str, Any]]:
    cruise = {"mixture": mixture, "altitude_max_ft": altitude_max_ft}
    return [
        _stage(
            StageKind.GROUND,
            cowl_flaps=_OPEN,
            aboard=_ABOARD_FIRST,
            advice=_GROUND_TURBO if turbo else _GROUND,
        ),
        _stage(
            StageKind.CLIMB,
            climb_to_ft=4000.0,
            mixture=_MIXTURE_CLIMB,
            cowl_flaps=_OPEN,
            aboard=_ABOARD_FIRST,
            advice=_(
                "Full throttle within gliding reach of the field. From a high field climb only to a safe gliding "
                "height: every further foot costs power. The heads must be falling by 3,000 ft; if not, rich, cowl "
                "flaps open, nose down, land."
            ),
        ),
        _stage(
            StageKind.HOUR_1,
            minutes=[[60, "75"]],
            cap_h=2.0,
            cowl_flaps=_OPEN,
            aboard=_ABOARD_FIRST,
            advice=_("No power changes. If you must land early, the rest is flown next time."),
            **cruise,
        ),
        _stage(
            StageKind.HOUR_2,
            minutes=[[15, "75"], [15, "65"], [15, "75"], [15, "65"]],
            cap_h=3.5,
            cowl_flaps=_TRAIL,
            aboard=_ABOARD,
            advice=_("Change the power slowly."),
            **cruise,
        ),
        _stage(
            StageKind.ALTERNATING,
            minutes=[[30, "75"], [30, "65"]],
            cowl_flaps=_TRAIL,
            aboard=_ABOARD,
            advice=_("Half an hour each, again and again until landing. Come down with 5 inHg less, about 500 ft/min."),
            **cruise,
        ),
        _stage(
            StageKind.SETTLE,
            minutes=[[30, "75"], [30, "65"]],
            cowl_flaps=_TRAIL,
            aboard=_ABOARD,
            advice=_(
                "Go on alternating; read the oil before and after each flight, and add nothing above the hold line."
            ),
            **cruise,
        ),
    ]


def _body(variant: str, finish: Finish, stages: list[dict[str, Any]], **more: Any) -> dict[str, Any]:
    low, high, least = HOURS_BY_FINISH[finish]
    limits = oil_limits(rated_hp=_TEMPLATE_HP, accept_factor=CHROME_ACCEPT_FACTOR if finish == Finish.CHROME else 1.0)
    return {
        "variant": variant,
        "source": SOURCE,
        "source_revision": REVISION,
        "credit": CREDIT,
        "low": 60.0,
        "expected_low_h": low,
        "expected_high_h": high,
        "minimum_h": least,
        "accept_qt_h": round(limits.accept, 4),
        "watch_qt_h": round(limits.watch, 4),
        "alarm_qt_h": round(limits.ceiling, 4),
        "oil_kind": OilKind.MINERAL.value,
        "follow_up_h": [10, 25, 50],
        "follow_up_days": [30, 90, 180],
        "idle_days": [10, 14, 21, 30],
        "stages": stages,
        **more,
    }


def bodies() -> dict[str, dict[str, Any]]:
    """Name: fields of a PlanTemplate."""
    constant = "constant speed"
    return {
        "Through-hardened steel": _body(constant, Finish.THROUGH_HARDENED, _stages()),
        "Nitrided steel": _body(constant, Finish.NITRIDED, _stages()),
        "Channel chrome": _body(constant, Finish.CHROME, _stages()),
        "Plain or re-honed steel": _body(constant, Finish.PLAIN_STEEL, _stages()),
        "Nickel-carbide composite": _body(constant, Finish.NICKEL, _stages()),
        "Turbocharged": _body(
            "turbo", Finish.NITRIDED, _stages(altitude_max_ft=8000.0, turbo=True), oil_kind=OilKind.DISPERSANT.value
        ),
        "Fixed pitch": _body("fixed pitch", Finish.NITRIDED, _stages(_MIXTURE_NO_GAUGE)),
        "Partial: cylinder replaced": _body("partial", Finish.PLAIN_STEEL, _stages()),
    }


def ensure_templates() -> dict[str, PlanTemplate]:
    """The templates by name. One that the shop has changed stays as it is."""
    return {
        name: newest(name) or PlanTemplate.objects.get_or_create(name=name, revision=1, defaults=body)[0]
        for name, body in bodies().items()
    }


def newest(name: str) -> PlanTemplate | None:
    """The revision of this name that is issued today; None where the book has none."""
    return PlanTemplate.objects.filter(name=name).order_by("-revision").first()


def slowest_finish(finishes: Iterable[str]) -> str:
    """The finish that governs the hours; empty when none is named."""
    fitted = set(finishes)
    return next((finish for finish in HOURS_BY_FINISH if finish in fitted), "")


def template_name_for(build: Build) -> str:
    """The template that fits a build: by its work and type first, then by its slowest finish."""
    revision = build.type_revision
    if revision.induction in (Induction.TURBOCHARGED, Induction.TURBO_NORMALISED):
        return "Turbocharged"
    if revision.prop_control == PropControl.FIXED:
        return "Fixed pitch"
    if build.kind == BuildKind.CYLINDER:
        return "Partial: cylinder replaced"
    finish = slowest_finish(build.positions.filter(disturbed=True).values_list("finish", flat=True))
    return {
        Finish.CHROME.value: "Channel chrome",
        Finish.NITRIDED.value: "Nitrided steel",
        Finish.NICKEL.value: "Nickel-carbide composite",
        Finish.THROUGH_HARDENED.value: "Through-hardened steel",
    }.get(finish, "Plain or re-honed steel")
