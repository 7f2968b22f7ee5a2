"""How every form of the shop looks and speaks: the renderer, the base form, and the widgets of a phone log.

Settings name the renderer (``FORM_RENDERER = "shop.forms.Renderer"``). ``{{ form.field.as_field_group }}`` then gives
label, hint, error and control tied together for screen readers; ``{% include "parts/errors.html" %}`` gives the
summary at the top with links to the fields.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.forms.renderers import TemplatesSetting
from django.utils.functional import Promise


class Renderer(TemplatesSetting):
    """Forms and fields come from shop/templates/forms/; widgets that aren't ours keep Django's own markup."""

    form_template_name = "forms/form.html"
    field_template_name = "forms/field.html"


class FieldsetMixin:
    """For a form whose fields stand in named groups.

    ``groups`` is a sequence of (heading, field names); ``grouped()`` gives (heading, bound fields) in that order.
    A field that no group names comes last under an empty heading, so that none is lost from the page.
    """

    groups: Sequence[tuple[str | Promise, Sequence[str]]] = ()

    def grouped(self: Any) -> list[tuple[str | Promise, list[forms.BoundField]]]:
        named = {name for _, names in self.groups for name in names}
        shown = [(heading, [self[name] for name in names if name in self.fields]) for heading, names in self.groups]
        rest = [field for field in self.visible_fields() if field.name not in named]
        return [*shown, *([("", rest)] if rest else [])]


class BookForm(FieldsetMixin, forms.Form):
    """A form that leaves judging to the server, so that what was typed comes back with a sentence beside it."""

    use_required_attribute = False


class BookModelForm(FieldsetMixin, forms.ModelForm):
    """The same for a form that is made from a model."""

    use_required_attribute = False


class Chips(forms.RadioSelect):
    """One choice of a few, each a large target with a visible radio; the keyboard works as in any radio group."""

    template_name = "forms/widgets/chips.html"


class CheckChips(forms.CheckboxSelectMultiple):
    """Several choices of a few, drawn as Chips."""

    template_name = "forms/widgets/chips.html"


class Stepper(forms.TextInput):
    """A number that is typed or stepped, with its unit beside it.

    It is a text field with a numeric keypad, so that "0,5" or "1:30" reaches the server as typed. ``step`` is what a
    tap adds, ``low`` and ``high`` bound the taps only, ``start`` is where the first tap on an empty field lands.
    """

    template_name = "forms/widgets/stepper.html"

    def __init__(
        self,
        *,
        unit: str = "",
        step: str = "1",
        low: str = "",
        high: str = "",
        start: str = "",
        attrs: dict[str, Any] | None = None,
    ) -> None:
        super().__init__({"inputmode": "decimal", "autocomplete": "off", **(attrs or {})})
        self.unit = unit
        self.bounds = {"step": step, "low": low, "high": high, "start": start}

    def get_context(self, name: str, value: Any, attrs: dict[str, Any] | None) -> dict[str, Any]:
        context: dict[str, Any] = super().get_context(name, value, attrs)
        context["widget"] |= {"unit": self.unit, "bounds": self.bounds}
        return context
