"""The shop's people and reference data in the admin."""

from __future__ import annotations

from django.contrib import admin

from shop.admin_base import KeepsRowsAdmin, ReadOnlyAdmin, TabularInline
from shop.models import (
    ApiToken,
    AuditEvent,
    Customer,
    CustomerMember,
    JobRun,
    Person,
    Place,
    Shop,
    ShopRole,
    User,
)

admin.site.site_header = "Run-in Book"
admin.site.site_title = "Run-in Book"
admin.site.index_title = "Reference data"


class RoleInline(TabularInline):
    model = ShopRole
    extra = 1
    can_delete = False


class MembershipInline(TabularInline):
    model = CustomerMember
    extra = 1
    can_delete = False
    autocomplete_fields = ("person", "customer")


@admin.register(Person)
class PersonAdmin(KeepsRowsAdmin):
    list_display = ("name", "email", "phone", "units", "zone")
    search_fields = ("name", "email", "phone")
    autocomplete_fields = ("user",)
    inlines = (RoleInline, MembershipInline)


@admin.register(User)
class UserAdmin(KeepsRowsAdmin):
    """Who may sign in. Passwords are set by the person through the mailed link, never here."""

    list_display = ("email", "is_active", "is_staff", "last_login")
    search_fields = ("email",)
    fields = (
        "email",
        "is_active",
        "is_staff",
        "is_superuser",
        "last_login",
        "date_joined",
    )
    readonly_fields = ("last_login", "date_joined")


@admin.register(Customer)
class CustomerAdmin(KeepsRowsAdmin):
    list_display = ("name", "phone")
    search_fields = ("name",)
    inlines = (MembershipInline,)


@admin.register(CustomerMember)
class CustomerMemberAdmin(KeepsRowsAdmin):
    list_display = ("person", "customer", "role", "first_contact", "since", "until")
    search_fields = ("person__name", "customer__name")
    autocomplete_fields = ("person", "customer")


@admin.register(ShopRole)
class ShopRoleAdmin(KeepsRowsAdmin):
    list_display = ("person", "role", "since", "until")
    list_filter = ("role",)
    autocomplete_fields = ("person",)


@admin.register(Place)
class PlaceAdmin(KeepsRowsAdmin):
    list_display = ("name", "elevation_ft", "zone")
    search_fields = ("name",)


@admin.register(Shop)
class ShopAdmin(KeepsRowsAdmin):
    list_display = ("name", "place", "phone", "mail")


@admin.register(ApiToken)
class ApiTokenAdmin(ReadOnlyAdmin):
    list_display = (
        "name",
        "user",
        "scope",
        "created_at",
        "expires_at",
        "revoked_at",
        "last_used_at",
    )
    exclude = ("sha256",)


@admin.register(AuditEvent)
class AuditEventAdmin(ReadOnlyAdmin):
    list_display = ("at", "actor", "act", "subject", "subject_id")
    list_filter = ("act",)
    search_fields = ("subject_id",)
    list_select_related = ("actor",)


@admin.register(JobRun)
class JobRunAdmin(ReadOnlyAdmin):
    list_display = (
        "name",
        "occurrence",
        "state",
        "started_at",
        "finished_at",
        "expected",
        "done",
        "failed",
    )
    list_filter = ("name", "state")
