"""Routes of the records' pages. A noun's routes stand together; moves of all kinds share one door."""

from __future__ import annotations

from django.urls import path

from anomalies.views import (
    actions,
    activities,
    dossier,
    evidence,
    findings,
    hardware,
    log,
    moves,
    notices,
    now,
    procedures,
    reports,
    search,
    tokens,
)

app_name = "anomalies"

urlpatterns = [
    path("", now.show_now, name="now"),
    path("activities/", activities.list_activities, name="activities"),
    path("activities/export.csv", activities.export_activities, name="activities_csv"),
    path("activities/<int:activity_id>/", activities.show_activity, name="activity"),
    path("hardware/", hardware.list_hardware, name="hardware"),
    path("hardware/export.csv", hardware.export_hardware, name="hardware_csv"),
    path("hardware/<int:item_id>/", hardware.show_item, name="item"),
    path("hardware/types/<int:type_id>/", hardware.show_type, name="hardware_type"),
    path("new/<slug:kind>/", moves.make_new, name="new"),
    path("actions/", actions.list_actions, name="actions"),
    path("actions/export.csv", actions.export_actions, name="actions_csv"),
    path("actions/<str:number>/", actions.show_action, name="action"),
    path("search/", search.search, name="search"),
    path("search/export.csv", search.export_hits, name="search_csv"),
    path("log/", log.list_log, name="log"),
    path("log/export.csv", log.export_log, name="log_csv"),
    path("log/views/", log.keep_view, name="keep_view"),
    path("log/views/<int:view_id>/", log.change_view, name="change_view"),
    path("log/new/", reports.report, name="report"),
    path("log/new/hardware/", reports.offer_hardware, name="hardware_options"),
    path("log/draft/<int:record_id>/", reports.show_draft, name="draft"),
    path("log/<str:number>/", dossier.show_dossier, name="dossier"),
    path("log/<str:number>/evidence/E<int:position>/", evidence.show_evidence, name="evidence"),
    path("log/<str:number>/evidence/E<int:position>/file/", evidence.hand_out_file, name="evidence_file"),
    path("log/<str:number>/history/", dossier.show_history, name="dossier_history"),
    path("log/<str:number>/findings/F<int:position>/", findings.show_finding, name="finding"),
    path("log/<str:number>/causes/C<int:position>/", findings.show_cause, name="cause"),
    path("notices/", notices.list_notices, name="notices"),
    path("notices/seen/", notices.see_notices, name="see_notices"),
    path("notices/mail/", notices.choose, name="choose_mail"),
    path("tokens/", tokens.list_tokens, name="tokens"),
    path("procedures/", procedures.list_procedures, name="procedures"),
    path("procedures/export.csv", procedures.export_procedures, name="procedures_csv"),
    path("procedures/new/", procedures.add, name="procedure_add"),
    path("procedures/<str:number>/", procedures.show_procedure, name="procedure"),
    path("procedures/<str:number>/revisions/<int:revision>/", procedures.show_revision, name="revision"),
    path("procedures/<str:number>/revisions/<int:revision>/card/", procedures.show_card, name="card"),
    path("procedures/<str:number>/revisions/<int:revision>/paper.css", procedures.show_paper_style, name="paper_style"),
    path("records/<slug:kind>/<int:record_id>/", moves.show_record, name="record"),
    path("records/<slug:kind>/<int:record_id>/<slug:name>/", moves.make_move, name="move"),
]
