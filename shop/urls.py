"""Every address of the site. Apps keep their own lists; this one only says where they hang."""

from allauth.account.decorators import secure_admin_login
from django.contrib import admin
from django.urls import include, path

from shop.health import healthz

# The admin is entered by the same door as everything else, with its rate limit and second factor.
admin.site.login = secure_admin_login(admin.site.login)  # type: ignore[method-assign]

urlpatterns = [
    path("accounts/", include("allauth.urls")),
    path("admin/", admin.site.urls),
    path("healthz", healthz, name="healthz"),
]
