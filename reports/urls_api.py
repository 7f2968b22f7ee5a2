"""Addresses of the programming interface, all under /api/v1/."""

from django.urls import path
from drf_spectacular.views import SpectacularAPIView

from breakin.api import AddOilView, LogFlightView
from breakin.api_recordings import ColumnsView, LogRecordedFlightView, MatchView, RecordingsView, RecordingView
from reports.api import BoardView, DueView, EngineView
from reports.api_closing import CloseOutDocumentView, CloseOutsView
from reports.api_mail import BouncedView
from shop.api import MeView, NowhereView

urlpatterns = [
    path("me/", MeView.as_view(), name="api_me"),
    path("board/", BoardView.as_view(), name="api_board"),
    path("due/", DueView.as_view(), name="api_due"),
    path("engines/<int:engine_id>/", EngineView.as_view(), name="api_engine"),
    path("engines/<int:engine_id>/oil/", AddOilView.as_view(), name="api_add_oil"),
    path("messages/bounced/", BouncedView.as_view(), name="api_bounced"),
    path("engines/<int:engine_id>/close-outs/", CloseOutsView.as_view(), name="api_close_outs"),
    path("close-outs/<int:file_id>/document/", CloseOutDocumentView.as_view(), name="api_close_out_document"),
    path("flights/", LogFlightView.as_view(), name="api_log_flight"),
    path("recordings/", RecordingsView.as_view(), name="api_recordings"),
    path("recordings/<int:recording_id>/", RecordingView.as_view(), name="api_recording"),
    path("recordings/<int:recording_id>/columns/", ColumnsView.as_view(), name="api_columns"),
    path("recordings/<int:recording_id>/flights/<int:number>/match/", MatchView.as_view(), name="api_match"),
    path(
        "recordings/<int:recording_id>/flights/<int:number>/log/",
        LogRecordedFlightView.as_view(),
        name="api_log_recorded",
    ),
    path("schema/", SpectacularAPIView.as_view(), name="api_schema"),
    path("<path:rest>", NowhereView.as_view(), name="api_nowhere"),
    path("", NowhereView.as_view(), name="api_root"),
]
