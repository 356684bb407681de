"""Routes of the records' JSON API."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.urls import URLPattern, path

from anomalies.api import (
    actions,
    activities,
    anomalies,
    causes,
    effects,
    evidence,
    findings,
    hardware,
    inspections,
    investigations,
    learning,
    people,
    procedures,
    records,
    search,
    ties,
    timeline,
    tokens,
)

app_name = "anomalies-api"
REVISION = "procedures/<str:number>/revisions/<int:revision>"


def route_moves(record: str, name: str, views: Mapping[str, Any]) -> list[URLPattern]:
    """Return a route for each move, below the record's; its name leaves out what the route takes."""
    names = {move: "-".join(part for part in move.split("/") if not part.startswith("<")) for move in views}
    return [path(f"{record}/{move}/", view, name=f"{name}-{names[move]}") for move, view in views.items()]


urlpatterns = [
    path("anomalies/", anomalies.AnomalyListView.as_view(), name="anomaly-list"),
    path("anomalies/<str:number>/", anomalies.show, name="anomaly"),
    path("anomalies/<str:number>/history/", anomalies.AnomalyHistoryView.as_view(), name="anomaly-history"),
    path("anomalies/<str:number>/constrain/", ties.ConstrainView.as_view(), name="anomaly-constrain"),
    path("anomalies/<str:number>/link/", ties.LinkToView.as_view(), name="anomaly-link"),
    *route_moves("anomalies/<str:number>", "anomaly", anomalies.MOVES),
    path("drafts/<int:draft_id>/", anomalies.show_draft, name="draft"),
    *(
        path(f"drafts/<int:draft_id>/{name}/", view, name=f"draft-{name}")
        for name, view in anomalies.DRAFT_MOVES.items()
    ),
    path("constraints/", ties.ConstraintListView.as_view(), name="constraint-list"),
    path("constraints/<int:constraint_id>/", ties.ConstraintView.as_view(), name="constraint"),
    *route_moves("constraints/<int:constraint_id>", "constraint", ties.CONSTRAINT_MOVES),
    path("links/", ties.LinkListView.as_view(), name="link-list"),
    path("links/<int:link_id>/", ties.LinkView.as_view(), name="link"),
    *route_moves("links/<int:link_id>", "link", ties.LINK_MOVES),
    path("anomalies/<str:number>/evidence/", evidence.AnomalyEvidenceView.as_view(), name="anomaly-evidence"),
    path("anomalies/<str:number>/timeline/", timeline.AnomalyTimelineView.as_view(), name="anomaly-timeline"),
    path("evidence/", evidence.EvidenceListView.as_view(), name="evidence-list"),
    path("evidence/<int:evidence_id>/", evidence.show, name="evidence"),
    *route_moves("evidence/<int:evidence_id>", "evidence", evidence.MOVES),
    path("evidence/<int:evidence_id>/file/", evidence.EvidenceFileView.as_view(), name="evidence-file"),
    path("evidence/<int:evidence_id>/openings/", evidence.EvidenceOpeningsView.as_view(), name="evidence-openings"),
    path("evidence/<int:evidence_id>/telemetry/", evidence.EvidenceTelemetryView.as_view(), name="evidence-telemetry"),
    path("timeline/<int:entry_id>/", timeline.show, name="timeline-entry"),
    *route_moves("timeline/<int:entry_id>", "timeline-entry", timeline.MOVES),
    path("anomalies/<str:number>/board/", findings.BoardView.as_view(), name="anomaly-board"),
    path("anomalies/<str:number>/board/unseat/", findings.UnseatView.as_view(), name="anomaly-unseat"),
    path("anomalies/<str:number>/findings/", findings.ProposeView.as_view(), name="anomaly-propose"),
    path("findings/", findings.FindingListView.as_view(), name="finding-list"),
    path("findings/<int:finding_id>/", findings.show, name="finding"),
    *route_moves("findings/<int:finding_id>", "finding", findings.MOVES),
    path("anomalies/<str:number>/causes/", causes.StateCauseView.as_view(), name="anomaly-state-cause"),
    path("causes/", causes.CauseListView.as_view(), name="cause-list"),
    path("causes/<int:cause_id>/", causes.show, name="cause"),
    *route_moves("causes/<int:cause_id>", "cause", causes.MOVES),
    path("anomalies/<str:number>/actions/", actions.ProposeActionView.as_view(), name="anomaly-propose-action"),
    path("anomalies/<str:number>/investigation/", investigations.OfAnomalyView.as_view(), name="anomaly-investigation"),
    path("investigations/", investigations.InvestigationListView.as_view(), name="investigation-list"),
    path("investigations/<int:investigation_id>/", investigations.InvestigationView.as_view(), name="investigation"),
    *route_moves("investigations/<int:investigation_id>", "investigation", investigations.MOVES),
    path("inspections/<int:inspection_id>/", inspections.show, name="inspection"),
    *route_moves("inspections/<int:inspection_id>", "inspection", inspections.INSPECTION_MOVES),
    path("anomalies/<str:number>/benefit/", effects.BenefitView.as_view(), name="benefit"),
    path(
        "investigations/<int:investigation_id>/take-baseline/",
        effects.TakeBaselineView.as_view(),
        name="investigation-take-baseline",
    ),
    path("actions/<str:number>/effects/", effects.OfActionView.as_view(), name="action-effects"),
    path("actions/<str:number>/state-effect/", effects.StateEffectView.as_view(), name="action-state-effect"),
    path("actions/<str:number>/tie/", effects.TieActionView.as_view(), name="action-tie"),
    path("failure-modes/", learning.ModesView.as_view(), name="failure_modes"),
    path("failure-modes/<int:failure_mode_id>/", learning.FailureModeView.as_view(), name="failure_mode"),
    path(
        "failure-modes/<int:failure_mode_id>/propose-update/",
        learning.ProposeView.as_view(),
        name="failure_mode-propose",
    ),
    path("exposure/<int:exposure_id>/", learning.ExposureView.as_view(), name="exposure"),
    *route_moves("exposure/<int:exposure_id>", "exposure", learning.EXPOSURE_MOVES),
    path("updates/<int:update_id>/", learning.UpdateView.as_view(), name="parameter_update"),
    *route_moves("updates/<int:update_id>", "parameter_update", learning.UPDATE_MOVES),
    path("effects/<int:effect_id>/", effects.EffectView.as_view(), name="effect"),
    *route_moves("effects/<int:effect_id>", "effect", effects.EFFECT_MOVES),
    path("action-ties/<int:tie_id>/", effects.TieView.as_view(), name="action_tie"),
    *route_moves("action-ties/<int:tie_id>", "action_tie", effects.TIE_MOVES),
    path("bearings/<int:bearing_id>/", inspections.BearingView.as_view(), name="bearing"),
    *route_moves("bearings/<int:bearing_id>", "bearing", inspections.BEARING_MOVES),
    path("actions/", actions.ActionListView.as_view(), name="action-list"),
    path("actions/<str:number>/", actions.show, name="action"),
    *route_moves("actions/<str:number>", "action", actions.MOVES),
    path("activities/", activities.ActivityListView.as_view(), name="activity-list"),
    path("activities/<int:activity_id>/", activities.show, name="activity"),
    *route_moves("activities/<int:activity_id>", "activity", activities.MOVES),
    path("hardware/", hardware.HardwareListView.as_view(), name="hardware-list"),
    path("hardware/<int:item_id>/", hardware.show, name="hardware"),
    *route_moves("hardware/<int:item_id>", "hardware", hardware.MOVES),
    path("hardware-types/", hardware.HardwareTypeListView.as_view(), name="hardware-type-list"),
    path("hardware-types/<int:type_id>/", hardware.HardwareTypeView.as_view(), name="hardware-type"),
    path("installations/", hardware.InstallationListView.as_view(), name="installation-list"),
    path("people/", people.PeopleListView.as_view(), name="people"),
    path("search/", search.SearchView.as_view(), name="search"),
    path("records/<slug:kind>/<int:record_id>/history/", records.HistoryView.as_view(), name="record-history"),
    path("records/<slug:kind>/<int:record_id>/signatures/", records.SignaturesView.as_view(), name="record-signatures"),
    path("procedures/", procedures.ProcedureListView.as_view(), name="procedure-list"),
    path("procedures/<str:number>/", procedures.show, name="procedure"),
    path("procedures/<str:number>/revisions/", procedures.RevisionListView.as_view(), name="revision-list"),
    path(f"{REVISION}/", procedures.show_revision, name="revision"),
    path(f"{REVISION}/redline/", procedures.RedlineView.as_view(), name="revision-redline"),
    path(f"{REVISION}/readers/", procedures.ReadersView.as_view(), name="revision-readers"),
    *route_moves(REVISION, "revision", procedures.MOVES),
    path("tokens/", tokens.TokenListView.as_view(), name="token-list"),
    path("tokens/<int:token_id>/", tokens.TokenView.as_view(), name="token"),
    *route_moves("tokens/<int:token_id>", "token", tokens.MOVES),
]
