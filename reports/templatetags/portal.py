"""Small looks into what a form of the portal carries."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django import template
from django.forms import BoundField

register = template.Library()


@register.filter
def of_field(found: Mapping[str, Any] | None, field: BoundField) -> Any:
    """What belongs to this field in a mapping by posted names; None for nothing."""
    return found.get(field.html_name) if found else None
