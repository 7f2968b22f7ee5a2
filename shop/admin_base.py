"""Admin classes for rows that nobody edits by hand: facts, and what the server makes of them."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from django.contrib import admin
from django.db.models import Model
from django.http import HttpRequest

if TYPE_CHECKING:
    ModelAdmin = admin.ModelAdmin[Any]
    TabularInline = admin.TabularInline[Any, Any]
else:  # generic for the type checker only
    ModelAdmin = admin.ModelAdmin
    TabularInline = admin.TabularInline


class ReadOnlyAdmin(ModelAdmin):
    """To look at, never to change: a fact is corrected on its page, where the reason is asked for."""

    list_per_page = 50
    show_full_result_count = False

    def has_add_permission(self, request: HttpRequest) -> bool:
        return False

    def has_change_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False


class KeepsRowsAdmin(ModelAdmin):
    """Reference data: added and changed, never deleted, since facts point to it."""

    list_per_page = 50
    show_full_result_count = False

    def has_delete_permission(self, request: HttpRequest, obj: Model | None = None) -> bool:
        return False
