"""Addresses of what everybody has: the pages of one's own account that are ours."""

from django.urls import path

from reports.views import calendar, details, tokens

urlpatterns = [
    path("calendar/<str:secret>.ics", calendar.calendar, name="calendar"),
    path("account/", details.details, name="details"),
    path("account/tokens/", tokens.tokens, name="tokens"),
    path("account/tokens/<int:token_id>/revoke/", tokens.token_revoke, name="token_revoke"),
]
