"""Engines, aircraft and their paper in the admin."""

from __future__ import annotations

from typing import Any

from django.contrib import admin
from django.urls import reverse
from django.utils.html import format_html

from engines.admin_holding import HoldingForm, HoldingFormSet, HoldingRowForm
from engines.models import (
    Accessory,
    AccessoryEvent,
    Aircraft,
    Build,
    BuildEvent,
    CellRun,
    CylinderPosition,
    Engine,
    EngineType,
    EngineTypeRevision,
    Holding,
    Inspection,
    Installation,
    Meter,
    Photo,
    PhotoWithdrawal,
    PilotAssignment,
    Preservation,
)
from shop.admin_base import KeepsRowsAdmin, ReadOnlyAdmin, TabularInline


@admin.register(EngineType)
class EngineTypeAdmin(KeepsRowsAdmin):
    list_display = ("designation", "maker")
    search_fields = ("designation", "maker")


@admin.register(EngineTypeRevision)
class EngineTypeRevisionAdmin(ReadOnlyAdmin):
    """To look at: numbers and charts are checked, and so entered, on the page of the type."""

    readonly_fields = ("entered_here",)
    list_display = (
        "engine_type",
        "number",
        "rated_hp",
        "rated_rpm",
        "sump_full_qt",
        "revised_at",
    )
    list_select_related = ("engine_type",)

    @admin.display(description="Revise it")
    def entered_here(self, obj: EngineTypeRevision) -> str:
        return format_html(
            '<a href="{}">on the page of the type</a>', reverse("engine_type", args=[obj.engine_type_id])
        )


@admin.register(Engine)
class EngineAdmin(KeepsRowsAdmin):
    list_display = ("serial", "engine_type")
    list_select_related = ("engine_type",)
    search_fields = ("serial", "engine_type__designation")
    autocomplete_fields = ("engine_type",)


class HoldingInline(TabularInline):
    model = Holding
    form = HoldingRowForm
    formset = HoldingFormSet
    extra = 1
    can_delete = False
    autocomplete_fields = ("customer",)


class AssignmentInline(TabularInline):
    model = PilotAssignment
    extra = 1
    can_delete = False
    autocomplete_fields = ("person",)


@admin.register(Aircraft)
class AircraftAdmin(KeepsRowsAdmin):
    list_display = ("registration", "description", "home")
    list_select_related = ("home",)
    search_fields = ("registration",)
    autocomplete_fields = ("home",)
    inlines = (HoldingInline, AssignmentInline)


@admin.register(Holding)
class HoldingAdmin(KeepsRowsAdmin):
    form = HoldingForm
    list_display = ("aircraft", "customer", "since", "until")
    list_select_related = ("aircraft", "customer")
    autocomplete_fields = ("aircraft", "customer")


@admin.register(PilotAssignment)
class PilotAssignmentAdmin(KeepsRowsAdmin):
    list_display = ("aircraft", "person", "since", "until")
    list_select_related = ("aircraft", "person")
    autocomplete_fields = ("aircraft", "person")


@admin.register(Installation)
class InstallationAdmin(ReadOnlyAdmin):
    list_display = (
        "engine",
        "aircraft",
        "position",
        "basis_clock",
        "min_oil_qt",
        "since",
        "until",
    )
    list_select_related = ("engine__engine_type", "aircraft")
    search_fields = ("engine__serial", "aircraft__registration")


@admin.register(Meter)
class MeterAdmin(ReadOnlyAdmin):
    list_display = (
        "aircraft",
        "position",
        "kind",
        "serial",
        "reading_at_start_h",
        "reading_at_end_h",
        "since",
        "until",
    )
    list_select_related = ("aircraft",)


class CylinderInline(TabularInline):
    model = CylinderPosition
    extra = 0
    can_delete = False

    def has_change_permission(self, request: Any, obj: Any = None) -> bool:
        return False

    def has_add_permission(self, request: Any, obj: Any = None) -> bool:
        return False


@admin.register(Build)
class BuildAdmin(ReadOnlyAdmin):
    list_display = ("number", "engine", "kind", "state", "opened_at", "closed_at")
    list_select_related = ("engine__engine_type",)
    list_filter = ("state", "kind")
    search_fields = ("number", "engine__serial")
    inlines = (CylinderInline,)


@admin.register(CylinderPosition)
class CylinderPositionAdmin(ReadOnlyAdmin):
    list_display = ("build", "number", "disturbed", "finish", "ring_lot")
    list_select_related = ("build__engine__engine_type",)
    search_fields = ("ring_lot", "barrel_lot", "barrel_serial", "build__number")


@admin.register(BuildEvent)
class BuildEventAdmin(ReadOnlyAdmin):
    list_display = ("at", "build", "kind", "by")
    list_select_related = ("build__engine__engine_type", "by")


@admin.register(CellRun)
class CellRunAdmin(ReadOnlyAdmin):
    list_display = ("build", "run_on", "minutes", "oil_used_qt")
    list_select_related = ("build__engine__engine_type",)


@admin.register(Preservation)
class PreservationAdmin(ReadOnlyAdmin):
    list_display = ("build", "preserved_on", "expires_on", "ended_on")
    list_select_related = ("build__engine__engine_type",)


@admin.register(Inspection)
class InspectionAdmin(ReadOnlyAdmin):
    list_display = (
        "local_date",
        "engine",
        "kind",
        "result",
        "performed_by",
        "withdrawn",
    )
    list_select_related = ("engine__engine_type", "performed_by")
    list_filter = ("kind", "result")


@admin.register(Photo)
class PhotoAdmin(ReadOnlyAdmin):
    list_display = ("of_at", "engine", "about", "caption", "for_customer", "uploaded_by")
    list_select_related = ("engine__engine_type", "uploaded_by")
    exclude = ("file", "small")


@admin.register(PhotoWithdrawal)
class PhotoWithdrawalAdmin(ReadOnlyAdmin):
    list_display = ("at", "photo", "by", "reason")
    list_select_related = ("photo", "by")


@admin.register(Accessory)
class AccessoryAdmin(ReadOnlyAdmin):
    list_display = ("engine", "kind", "name")
    list_select_related = ("engine__engine_type",)
    list_filter = ("kind",)
    search_fields = ("engine__serial", "name")


@admin.register(AccessoryEvent)
class AccessoryEventAdmin(ReadOnlyAdmin):
    list_display = ("done_on", "accessory", "act", "interval_h", "interval_months", "by", "withdrawn")
    list_select_related = ("accessory__engine__engine_type", "by")
    list_filter = ("act",)
