"""Routes of the JSON API."""

from __future__ import annotations

from django.urls import path

from faulttree.api import changes, exports, library, variants, views

app_name = "faulttree-api"

urlpatterns = [
    path("trees/", views.TreesView.as_view(), name="trees"),
    path("trees/<int:tree_id>/revisions/", views.RevisionsView.as_view(), name="revisions"),
    path("trees/<int:tree_id>/revisions/<int:number>/runs/", views.RevisionRunsView.as_view(), name="runs"),
    path("trees/<int:tree_id>/revisions/<int:number>/changes/", changes.RevisionChangesView.as_view(), name="changes"),
    path("trees/<int:tree_id>/revisions/<int:number>/source/", exports.RevisionSourceView.as_view(), name="source"),
    path("trees/<int:tree_id>/revisions/<int:number>/xml/", exports.RevisionXmlView.as_view(), name="xml"),
    path("trees/<int:tree_id>/revisions/<int:number>/model/", exports.RevisionModelView.as_view(), name="model"),
    path("trees/<int:tree_id>/revisions/<int:number>/diagram/", exports.RevisionDiagramView.as_view(), name="diagram"),
    path("trees/<int:tree_id>/revisions/<int:number>/report/", exports.RevisionReportView.as_view(), name="report"),
    path("trees/<int:tree_id>/variants/", variants.VariantsView.as_view(), name="variants"),
    path("trees/<int:tree_id>/variants/comparison/", variants.ComparisonView.as_view(), name="comparison"),
    path("variants/<int:variant_id>/", variants.VariantView.as_view(), name="variant"),
    path("variants/<int:variant_id>/change/", variants.VariantChangeView.as_view(), name="change_variant"),
    path("variants/<int:variant_id>/remove/", variants.VariantRemoveView.as_view(), name="remove_variant"),
    path("library/", library.SharedItemsView.as_view(), name="library"),
    path("library/data-sets/", library.DataSetsView.as_view(), name="data_sets"),
    path("library/<int:item_id>/", library.SharedItemView.as_view(), name="shared"),
    path("library/<int:item_id>/change/", library.SharedChangeView.as_view(), name="change_shared"),
    path("runs/<int:run_id>/", views.RunView.as_view(), name="run"),
    path("runs/<int:run_id>/result/", views.RunResultView.as_view(), name="result"),
    path("runs/<int:run_id>/cut-sets/", exports.RunCutSetsView.as_view(), name="cut_sets"),
    path("runs/<int:run_id>/importance/", exports.RunImportanceView.as_view(), name="importance"),
    path("runs/<int:run_id>/cancel/", views.RunCancelView.as_view(), name="cancel"),
]
