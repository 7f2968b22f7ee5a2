"""Addresses of the pilot's pages."""

from django.urls import path

from reports.views import (
    card,
    card_print,
    corrections,
    instructor,
    log_flight,
    offline,
    oil,
    portal,
    recording,
    recording_columns,
    recording_log,
    recordings,
    timer,
    tour,
)

urlpatterns = [
    path("sw.js", offline.service_worker, name="service_worker"),
    path("portal/no-network/", offline.no_network, name="no_network"),
    path("portal/", portal.portal, name="portal"),
    path("portal/tour/", tour.tour, name="tour"),
    path("portal/aircraft/<int:aircraft_id>/tour/", tour.tour, name="aircraft_tour"),
    path("portal/instructor/", instructor.instructor, name="instructor"),
    path("portal/aircraft/<int:aircraft_id>/", portal.portal_aircraft, name="portal_aircraft"),
    path("portal/aircraft/<int:aircraft_id>/card/", card.next_card, name="next_card"),
    path("portal/aircraft/<int:aircraft_id>/card.pdf", card_print.next_card_print, name="next_card_print"),
    path("portal/aircraft/<int:aircraft_id>/cards/", card.kept_cards, name="kept_cards"),
    path("portal/cards/<int:card_id>/", card.kept_card, name="kept_card"),
    path("portal/cards/<int:card_id>/card.pdf", card_print.kept_card_print, name="kept_card_print"),
    path("portal/aircraft/<int:aircraft_id>/timer/", timer.flight_timer, name="flight_timer"),
    path("portal/aircraft/<int:aircraft_id>/log/", log_flight.log_flight, name="log_flight"),
    path("portal/aircraft/<int:aircraft_id>/recordings/", recordings.upload_recording, name="upload_recording"),
    path("portal/flights/<int:flight_id>/received/", log_flight.flight_received, name="flight_received"),
    path("portal/engines/<int:engine_id>/oil/", oil.oil_reading, name="oil_reading"),
    path("flights/<int:flight_id>/correct/", corrections.correct_flight, name="correct_flight"),
    path("oil/<int:event_id>/correct/", corrections.correct_oil, name="correct_oil"),
    path("recordings/<int:recording_id>/", recording.recording, name="recording"),
    path("recordings/<int:recording_id>/columns/", recording_columns.recording_columns, name="recording_columns"),
    path("recordings/<int:recording_id>/progress/", recordings.recording_progress, name="recording_progress"),
    path("recordings/<int:recording_id>/again/", recording.recording_again, name="recording_again"),
    path("recordings/<int:recording_id>/file/", recordings.recording_file, name="recording_file"),
    path(
        "recordings/<int:recording_id>/flights/<int:number>/series/", recording.recorded_series, name="recorded_series"
    ),
    path(
        "recordings/<int:recording_id>/flights/<int:number>/lines.svg",
        recording.recorded_picture,
        name="recorded_picture",
    ),
    path("recordings/<int:recording_id>/flights/<int:number>/match/", recording.recorded_match, name="recorded_match"),
    path("recordings/<int:recording_id>/flights/<int:number>/log/", recording_log.recorded_log, name="recorded_log"),
]
