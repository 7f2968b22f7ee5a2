"""Small looks into what a form of the portal carries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.forms import BoundField
from django.template import Context

from reports.inspect.photos import PhotoForm

register = template.Library()


@register.inclusion_tag("reports/portal/parts/photo_send.html", takes_context=True)
def send_photos(context: Context, address: str) -> dict[str, Any]:
    """The form that sends photos of what was just received, to this address."""
    reader = context["reader"]
    return {
        "address": address,
        "form": PhotoForm(staff=reader.staff, auto_id="photo_%s"),
        "csrf_token": context.get("csrf_token"),
    }


@register.filter
def of_field(found: Mapping[str, Any] | None, field: BoundField) -> Any:
    """What belongs to this field in a mapping by posted names; None for nothing."""
    return found.get(field.html_name) if found else None
