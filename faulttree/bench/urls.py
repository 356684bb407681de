"""Page routes of the app."""

from __future__ import annotations

from django.urls import path

from faulttree.bench import change_views, draft_views, export_views, library_views, run_views, tree_views, variant_views

app_name = "faulttree"

urlpatterns = [
    path("trees/", tree_views.list_trees, name="trees"),
    path("trees/export.csv", tree_views.export_trees, name="trees_csv"),
    path("trees/import/", tree_views.import_file, name="import"),
    path("trees/new/", draft_views.new_tree, name="new_tree"),
    path("trees/<int:tree_id>/edit/", draft_views.open_one, name="open_draft"),
    path("bench/<int:draft_id>/", draft_views.show_draft, name="bench"),
    path("bench/<int:draft_id>/pieces/", draft_views.show_pieces, name="bench_pieces"),
    path("bench/<int:draft_id>/steps/", draft_views.take_step, name="bench_step"),
    path("bench/<int:draft_id>/check/", draft_views.check_step, name="bench_check"),
    path("bench/<int:draft_id>/split/", draft_views.split, name="bench_split"),
    path("bench/<int:draft_id>/undo/", draft_views.undo, name="bench_undo"),
    path("bench/<int:draft_id>/redo/", draft_views.redo, name="bench_redo"),
    path("bench/<int:draft_id>/time/", draft_views.set_time, name="bench_time"),
    path("bench/<int:draft_id>/save/", draft_views.save, name="bench_save"),
    path("bench/<int:draft_id>/discard/", draft_views.discard, name="bench_discard"),
    path("bench/<int:draft_id>/forward/", draft_views.bring_forward, name="bench_forward"),
    path("trees/<int:tree_id>/", tree_views.show_tree, name="tree"),
    path("trees/<int:tree_id>/revise/", tree_views.revise, name="revise"),
    path("trees/<int:tree_id>/revisions/<int:number>/", tree_views.show_revision, name="revision"),
    path("trees/<int:tree_id>/revisions/<int:number>/changes/", change_views.show_changes, name="changes"),
    path("trees/<int:tree_id>/revisions/<int:number>/source/", tree_views.download_source, name="source"),
    path("trees/<int:tree_id>/revisions/<int:number>/model.xml", export_views.export_xml, name="export_xml"),
    path("trees/<int:tree_id>/revisions/<int:number>/model.json", export_views.export_json, name="export_json"),
    path("trees/<int:tree_id>/revisions/<int:number>/diagram.svg", export_views.export_svg, name="export_svg"),
    path("trees/<int:tree_id>/revisions/<int:number>/report.pdf", export_views.export_pdf, name="export_pdf"),
    path("trees/<int:tree_id>/revisions/<int:number>/runs/", run_views.request_one, name="request_run"),
    path("trees/<int:tree_id>/variants/", variant_views.show_variants, name="variants"),
    path("trees/<int:tree_id>/variants/comparison.csv", variant_views.export_variants, name="variants_csv"),
    path("trees/<int:tree_id>/variants/add/", variant_views.add_one, name="variant_add"),
    path("trees/<int:tree_id>/variants/compute/", variant_views.request_runs, name="variants_compute"),
    path("variants/<int:variant_id>/change/", variant_views.change_one, name="variant_change"),
    path("variants/<int:variant_id>/remove/", variant_views.remove_one, name="variant_remove"),
    path("library/", library_views.list_items, name="library"),
    path("library/export.csv", library_views.export_items, name="library_csv"),
    path("library/new/", library_views.add_item, name="shared_new"),
    path("library/data-sets/", library_views.list_data_sets, name="data_sets"),
    path("library/<int:item_id>/", library_views.show_item, name="shared"),
    path("library/<int:item_id>/retire/", library_views.retire_item, name="shared_retire"),
    path("runs/<int:run_id>/", run_views.show_run, name="run"),
    path("runs/<int:run_id>/progress/", run_views.show_progress, name="progress"),
    path("runs/<int:run_id>/cancel/", run_views.cancel, name="cancel_run"),
    path("runs/<int:run_id>/repeat/", run_views.repeat, name="repeat_run"),
    path("runs/<int:run_id>/result.json", run_views.download_result, name="result"),
    path("runs/<int:run_id>/cut-sets.csv", export_views.export_cut_sets, name="cut_sets_csv"),
    path("runs/<int:run_id>/importance.csv", export_views.export_importance, name="importance_csv"),
]
