"""Routes of the records' JSON API."""

from __future__ import annotations

from django.urls import path

from anomalies.api import evidence, timeline

app_name = "anomalies-api"

urlpatterns = [
    path("anomalies/<str:number>/evidence/", evidence.AnomalyEvidenceView.as_view(), name="anomaly-evidence"),
    path("anomalies/<str:number>/timeline/", timeline.AnomalyTimelineView.as_view(), name="anomaly-timeline"),
    path("evidence/", evidence.EvidenceListView.as_view(), name="evidence-list"),
    path("evidence/<int:evidence_id>/", evidence.EvidenceView.as_view(), name="evidence"),
    path("evidence/<int:evidence_id>/withdraw/", evidence.EvidenceWithdrawView.as_view(), name="evidence-withdraw"),
    path("evidence/<int:evidence_id>/file/", evidence.EvidenceFileView.as_view(), name="evidence-file"),
    path("evidence/<int:evidence_id>/openings/", evidence.EvidenceOpeningsView.as_view(), name="evidence-openings"),
    path("evidence/<int:evidence_id>/telemetry/", evidence.EvidenceTelemetryView.as_view(), name="evidence-telemetry"),
    path("timeline/<int:entry_id>/", timeline.TimelineEntryView.as_view(), name="timeline-entry"),
    path(
        "timeline/<int:entry_id>/withdraw/",
        timeline.TimelineEntryWithdrawView.as_view(),
        name="timeline-entry-withdraw",
    ),
]
