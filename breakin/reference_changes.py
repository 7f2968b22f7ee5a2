"""Reference data changed by hand: builds whose board row shows it are judged anew."""

from __future__ import annotations

from typing import Any

from django.db.models import Model
from django.db.models.signals import post_delete, post_save
from django.utils import timezone

from breakin import assess
from engines.models import Aircraft, Build, Holding, Installation
from shop.models import Customer, CustomerMember, Place


def _builds(instance: Model) -> Any:
    seats = Installation.objects.filter(until__isnull=True)
    if isinstance(instance, Holding):
        seats = seats.filter(aircraft=instance.aircraft_id)
    elif isinstance(instance, CustomerMember):
        seats = seats.filter(aircraft__holdings__customer=instance.customer_id)
    elif isinstance(instance, Customer):
        seats = seats.filter(aircraft__holdings__customer=instance.pk)
    elif isinstance(instance, Aircraft):
        seats = seats.filter(aircraft=instance.pk)
    else:
        seats = seats.filter(aircraft__home=instance.pk)
    return Build.objects.filter(assessment__live=True, engine__in=seats.values("engine"))


def mark(sender: type[Model], instance: Model, *, created: bool = False, raw: bool = False, **kwargs: Any) -> None:
    """Mark the builds dirty; the minute's tick judges them. A new customer, aircraft or place has no builds yet."""
    if raw or (created and sender in (Customer, Aircraft, Place)):
        return
    assess.mark_dirty(_builds(instance).values_list("pk", flat=True), timezone.now())


def watch() -> None:
    for model in (Holding, CustomerMember, Customer, Aircraft, Place):
        post_save.connect(mark, sender=model, dispatch_uid=f"breakin.changed.{model.__name__}")
    for model in (Holding, CustomerMember):
        post_delete.connect(mark, sender=model, dispatch_uid=f"breakin.gone.{model.__name__}")
