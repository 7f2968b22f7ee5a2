"""What a shop enters before its first engine is on the board, and which of it is done."""

from __future__ import annotations

from dataclasses import dataclass

from django.urls import reverse

from breakin.models import PlanTemplate
from engines.models import Aircraft, Build, EngineTypeRevision
from reports.reader import Reader
from shop.access import TECHNICIANS
from shop.models import Shop, ShopRole


@dataclass(frozen=True)
class Step:
    """One step. `links` are (address, words)."""

    name: str
    done: bool
    say: str
    links: tuple[tuple[str, str], ...]


def is_under_way() -> bool:
    """Has the shop said who it is, and opened its first build? Two queries."""
    return Shop.objects.exists() and Build.objects.exists()


def first_steps(reader: Reader) -> tuple[Step, ...]:
    """The steps in their order. A fixed number of queries."""
    technicians = ShopRole.objects.filter(role__in=TECHNICIANS, until__isnull=True)
    me = reader.person is not None
    return (
        Step(
            "You", me, "Every act of the shop is signed by a person. Say who this login stands for.",
            () if me else ((reverse("oneself"), "Enter yourself"),),
        ),
        Step(
            "The shop", Shop.objects.exists(), "Name, field with elevation and time zone, phone, mail.",
            ((reverse("shop_profile"), "The shop"), (reverse("places"), "Other fields")),
        ),
        Step(
            "People", technicians.exists(), "Technicians inspect, fill oil and clear Stops. A build needs one of them.",
            ((reverse("invite"), "Invite somebody"), (reverse("people"), "People")),
        ),
        Step(
            "Engine types", EngineTypeRevision.objects.exists(),
            "The maker's numbers and the power chart, pasted from a spreadsheet.",
            ((reverse("type_new"), "Enter an engine type"), (reverse("engine_types"), "Engine types")),
        ),
        Step(
            "Plan templates", PlanTemplate.objects.exists(),
            "What a run-in plan is issued from. Take the starting ones over, then name the documents that you follow.",
            ((reverse("templates"), "Plan templates"),),
        ),
        Step(
            "Customers and aircraft", Aircraft.objects.exists(),
            "One by one, or with engines and open builds from a table.",
            ((reverse("aircraft_new"), "Enter an aircraft"), (reverse("import_table"), "From a table")),
        ),
        Step(
            "The first build", Build.objects.exists(), "With its cylinders and its plan. Then install the engine.",
            ((reverse("build_new"), "Open a build"),),
        ),
    )  # fmt: skip
