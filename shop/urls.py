"""Every address of the site. Apps keep their own lists; this one only says where they hang."""

from allauth.account.decorators import secure_admin_login
from django.contrib import admin
from django.urls import include, path

from shop.accounts import closed
from shop.health import healthz

# The admin is entered by the same door as everything else, with its rate limit and second factor.
admin.site.login = secure_admin_login(admin.site.login)  # type: ignore[method-assign]

urlpatterns = [
    # An address is proved by the invitation that went there; only the shop changes it.
    path("accounts/email/", closed),
    path("accounts/confirm-email/", closed),
    path("accounts/confirm-email/<path:key>/", closed),
    path("accounts/", include("allauth.urls")),
    path("admin/", admin.site.urls),
    path("healthz", healthz, name="healthz"),
    path("api/v1/", include("reports.urls_api")),
    path("", include("reports.urls_account")),
    path("", include("reports.urls_shop")),
    path("", include("reports.urls_acts")),
    path("", include("reports.urls_inspections")),
    path("", include("reports.urls_portal")),
]
