"""Addresses of the programming interface, all under /api/v1/."""

from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from breakin.api import AddOilView, LogFlightView
from reports.api import BoardView, DueView, EngineView
from reports.api_mail import BouncedView
from shop.api import MeView, NowhereView

urlpatterns = [
    path("me/", MeView.as_view(), name="api_me"),
    path("board/", BoardView.as_view(), name="api_board"),
    path("due/", DueView.as_view(), name="api_due"),
    path("engines/<int:engine_id>/", EngineView.as_view(), name="api_engine"),
    path("engines/<int:engine_id>/oil/", AddOilView.as_view(), name="api_add_oil"),
    path("messages/bounced/", BouncedView.as_view(), name="api_bounced"),
    path("flights/", LogFlightView.as_view(), name="api_log_flight"),
    path("schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("<path:rest>", NowhereView.as_view(), name="api_nowhere"),
    path("", NowhereView.as_view(), name="api_root"),
]
