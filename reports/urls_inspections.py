"""Addresses of inspections and photos."""

from django.urls import path

from reports.views import due, inspections, photos

urlpatterns = [
    path("engines/<int:engine_id>/inspect/", inspections.inspection_choose, name="inspection_choose"),
    path("engines/<int:engine_id>/inspect/<str:kind>/", inspections.inspection_new, name="inspection_new"),
    path("inspections/<int:inspection_id>/", inspections.inspection, name="inspection"),
    path("inspections/<int:inspection_id>/correct/", inspections.inspection_correct, name="inspection_correct"),
    path("inspections/<int:inspection_id>/photos/", photos.inspection_photos, name="inspection_photos"),
    path("oil/<int:event_id>/photos/", photos.oil_photos, name="oil_photos"),
    path("flights/<int:flight_id>/photos/", photos.flight_photos, name="flight_photos"),
    path("photos/<int:photo_id>/", photos.photo, name="photo"),
    path("photos/<int:photo_id>/small/", photos.photo_small, name="photo_small"),
    path("photos/<int:photo_id>/withdraw/", photos.photo_withdraw, name="photo_withdraw"),
    path("due/<int:due_id>/waive/", due.due_waive, name="due_waive"),
]
