"""Routes of the records' pages. A noun's routes stand together; moves of all kinds share one door."""

from __future__ import annotations

from django.urls import path

from anomalies.views import moves

app_name = "anomalies"

urlpatterns = [
    path("records/<slug:kind>/<int:record_id>/", moves.show_record, name="record"),
    path("records/<slug:kind>/<int:record_id>/<slug:name>/", moves.make_move, name="move"),
]
