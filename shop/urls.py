"""Every address of the site. Apps keep their own lists; this one only says where they hang."""

from django.contrib import admin
from django.urls import include, path

urlpatterns = [
    path("accounts/", include("allauth.urls")),
    path("admin/", admin.site.urls),
]
