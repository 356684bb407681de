"""Every page and who may have it, by hand: methods, address, who may (or the rule that says it), who finds it.

Who doesn't find it gets 404, who finds it and may not gets 403, a visitor is sent to the log-in. A method that isn't in
a row of the route is no method of the page (405). Words in braces are records of world.py.
"""

from __future__ import annotations

OPEN_TO_VISITORS = {
    "login",
    "logout",
    "theme",
    "anomalies:shared_brief",
    "anomalies:calendar_feed",
}
"""Routes that need no log-in; tests/config/test_pages.py holds them."""

PAGES = """
GET       /                                                   | everyone
GET       /api/v1/docs/                                       | everyone
GET       /search/                                            | everyone
GET       /search/export.csv                                  | everyone
GET       /search/options/                                    | everyone
GET       /notices/                                           | everyone
POST      /notices/seen/                                      | everyone
POST      /notices/mail/                                      | everyone
GET POST  /tokens/                                            | access_token.make
GET POST  /calendar/                                          | calendar_key.make

GET       /log/                                               | anomaly.view
GET       /log/export.csv                                     | anomaly.view
POST      /log/views/                                         | anomaly.view
POST      /log/views/{own_view.pk}/                           | who made it | who made it
POST      /log/views/{shared_view.pk}/                        | who made it
GET POST  /log/new/                                           | anomaly.report
GET POST  /log/import/                                        | anomaly.report
GET       /log/import/example.csv                             | anomaly.report
GET       /log/new/hardware/                                  | everyone
GET POST  /log/draft/{anomaly_draft.pk}/                      | who made it | who made it
GET       /log/{anomaly_open.number}/                         | every role | every role
GET       /log/{anomaly_open.number}/report.pdf               | every role | every role
GET       /log/{anomaly_open.number}/history/                 | every role | every role
GET       /log/{evidence_held.anomaly.number}/evidence/E1/      | every role | every role
GET       /log/{evidence_held.anomaly.number}/evidence/E1/file/ | evidence.open | every role
GET       /log/{finding_proposed.anomaly.number}/findings/F1/ | every role | every role
GET       /log/{cause_open.anomaly.number}/causes/C1/         | every role | every role
GET       /log/{investigation_under_way.anomaly.number}/investigation/ | every role | every role
GET       /log/{investigation_under_way.anomaly.number}/investigation/explain/prior/?of=valve | every role | every role
GET       /log/{investigation_under_way.anomaly.number}/benefit/ | every role | every role
GET       /log/{effect_standing.action.anomaly.number}/benefit/explain/before/ | every role | every role

GET       /actions/                                           | action.view
GET       /actions/export.csv                                 | action.view
GET       /actions/{action_done.number}/                      | every role | every role

GET       /actions/{action_verified.number}/explain/needed/?of=MODE-plain | every role | every role

GET       /lessons/                                           | anomaly.view
GET       /lessons/export.csv                                 | anomaly.view
GET       /lessons/{lesson_issued.number}/                    | every role | every role

GET       /learning/                                          | anomaly.view
GET       /learning/modes/{failure_mode.pk}/                  | every role | every role
GET       /learning/modes/{failure_mode.pk}/exposure.csv      | every role | every role
GET       /learning/modes/{failure_mode.pk}/explain/interval/ | every role | every role
GET       /learning/updates/{parameter_update_proposed.pk}/   | every role | every role
GET       /learning/common-cause/                             | anomaly.view
GET       /learning/through-a-tree/                           | tree.view

GET       /trends/                                            | anomaly.view
GET       /trends/records/?what=all                           | anomaly.view
GET       /trends/explain/mean/?of=screen                     | anomaly.view

GET       /readiness/                                         | readiness_review.view
GET       /readiness/requirements/                            | activity.view
GET       /readiness/{coming.pk}/                             | every role | every role
GET       /readiness/{coming.pk}/brief/                       | every role | every role
GET       /readiness/{brief_share_usable.activity_id}/brief/shares/ | every role | every role
POST      /readiness/{brief_share_usable.activity_id}/brief/shares/ | brief_share.make | every role
GET       /readiness/{coming.pk}/brief.pdf                    | every role | every role
GET       /readiness/{readiness_snapshot.review.activity_id}/rounds/1/ | every role | every role

GET       /meetings/                                          | anomaly.view
GET       /meetings/{board_meeting_planned.pk}/               | every role | every role
GET       /meetings/{board_meeting_held.pk}/minutes.pdf       | every role | every role

GET       /activities/                                        | activity.view
GET       /activities/export.csv                              | activity.view
GET       /activities/{activity_planned.pk}/                  | every role | every role
GET       /activities/{activity_planned.pk}/cards/            | every role | every role
GET       /activities/{with_card.pk}/cards/cards.pdf          | every role | every role

GET       /hardware/                                          | hardware.view
GET       /hardware/export.csv                                | hardware.view
GET       /hardware/{hardware_in_service.pk}/                 | every role | every role
GET       /hardware/types/{type.pk}/                          | every role | every role

GET       /procedures/                                        | procedure.view
GET       /procedures/export.csv                              | procedure.view
GET POST  /procedures/new/                                    | procedure.add
GET       /procedures/{procedure.number}/                     | every role | every role
GET       /{released_at}/                                     | every role | every role
GET       /{released_at}/card/                                | every role | every role
GET       /{released_at}/paper.css                            | every role | every role

GET       /trees/                                             | tree.view
GET       /trees/export.csv                                   | tree.view
GET POST  /trees/import/                                      | tree.import
GET POST  /trees/new/                                         | draft.open
POST      /trees/{tree.pk}/edit/                              | draft.open | every role
GET       /bench/{tree_draft.pk}/                             | whose draft it is | whose draft it is
GET       /bench/{tree_draft.pk}/pieces/                      | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/steps/                       | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/check/                       | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/split/                       | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/undo/                        | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/redo/                        | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/time/                        | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/save/                        | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/forward/                     | whose draft it is | whose draft it is
POST      /bench/{tree_draft.pk}/discard/                     | whose draft it is | whose draft it is
GET       /trees/{tree.pk}/                                   | every role | every role
GET POST  /trees/{tree.pk}/revise/                            | tree.revise | every role
GET       /trees/{tree.pk}/revisions/1/                       | every role | every role
GET       /trees/{tree.pk}/revisions/1/changes/               | every role | every role
GET       /trees/{tree.pk}/revisions/1/source/                | every role | every role
GET       /trees/{tree.pk}/revisions/1/model.xml              | every role | every role
GET       /trees/{tree.pk}/revisions/1/model.json             | every role | every role
GET       /trees/{tree.pk}/revisions/1/diagram.svg            | every role | every role
GET       /trees/{tree.pk}/revisions/1/report.pdf             | every role | every role
POST      /trees/{tree.pk}/revisions/1/runs/                  | run.request | every role
GET       /trees/{tree.pk}/variants/                          | every role | every role
GET       /trees/{tree.pk}/variants/comparison.csv            | every role | every role
GET POST  /trees/{tree.pk}/variants/add/                      | variant.add | every role
POST      /trees/{tree.pk}/variants/compute/                  | run.request | every role
GET       /library/                                           | tree.view
GET       /library/export.csv                                 | tree.view
GET POST  /library/new/                                       | library.change
GET       /library/data-sets/                                 | tree.view
GET       /library/{shared.pk}/                               | every role | every role
POST      /library/{shared.pk}/                               | library.change | every role
POST      /library/{shared.pk}/retire/                        | library.change | every role
GET POST  /variants/{variant.pk}/change/                      | variant.change | every role
POST      /variants/{variant.pk}/remove/                      | variant.remove | every role
GET       /runs/{run_done.pk}/                                | every role | every role
GET       /runs/{run_queued.pk}/progress/                     | every role | every role
POST      /runs/{run_queued.pk}/cancel/                       | run.cancel | every role
POST      /runs/{run_cancelled.pk}/repeat/                    | run.request | every role
GET       /runs/{run_done.pk}/result.json                     | every role | every role
GET       /runs/{run_done.pk}/cut-sets.csv                    | every role | every role
GET       /runs/{run_done.pk}/importance.csv                  | every role | every role
"""

RECORDS = """  # the way from a key to a record's page, for each kind that has one
GET  /records/access_token/{access_token_usable.pk}/          | who made it | who made it
GET  /records/action/{action_done.pk}/                        | every role | every role
GET  /records/action_tie/{action_tie_standing.pk}/            | every role | every role
GET  /records/activity/{activity_planned.pk}/                 | every role | every role
GET  /records/anomaly/{anomaly_open.pk}/                      | every role | every role
GET  /records/anomaly/{anomaly_draft.pk}/                     | who made it | who made it
GET  /records/baseline/{baseline.pk}/                         | every role | every role
GET  /records/bearing/{bearing_standing.pk}/                  | every role | every role
GET  /records/board_meeting/{board_meeting_held.pk}/          | every role | every role
GET  /records/meeting_decision/{meeting_decision_standing.pk}/ | every role | every role
GET  /records/brief_share/{brief_share_usable.pk}/            | every role | every role
GET  /records/calendar_key/{calendar_key_usable.pk}/          | who made it | who made it
GET  /records/cause/{cause_open.pk}/                          | every role | every role
GET  /records/constraint/{constraint_in_force.pk}/            | every role | every role
GET  /records/disposition/{disposition.pk}/                   | every role | every role
GET  /records/effect/{effect_standing.pk}/                    | every role | every role
GET  /records/evidence/{evidence_held.pk}/                    | every role | every role
GET  /records/exposure/{exposure_standing.pk}/                | every role | every role
GET  /records/failure_mode/{failure_mode.pk}/                 | every role | every role
GET  /records/finding/{finding_proposed.pk}/                  | every role | every role
GET  /records/hardware/{hardware_in_service.pk}/              | every role | every role
GET  /records/hardware_type/{type.pk}/                        | every role | every role
GET  /records/inspection/{inspection_possible.pk}/            | every role | every role
GET  /records/investigation/{investigation_under_way.pk}/     | every role | every role
GET  /records/lesson/{lesson_issued.pk}/                      | every role | every role
GET  /records/lesson_use/{lesson_use_standing.pk}/            | every role | every role
GET  /records/link/{link_standing.pk}/                        | every role | every role
GET  /records/parameter_update/{parameter_update_proposed.pk}/ | every role | every role
GET  /records/fulfilment/{fulfilment_standing.pk}/            | every role | every role
GET  /records/poll_answer/{poll_answer.pk}/                   | every role | every role
GET  /records/poll_position/{poll_position.pk}/               | every role | every role
GET  /records/readiness_review/{readiness_review_signed.pk}/  | every role | every role
GET  /records/readiness_snapshot/{readiness_snapshot.pk}/     | every role | every role
GET  /records/requirement/{requirement_in_use.pk}/            | every role | every role
GET  /records/standard_position/{standard_position.pk}/       | every role | every role
GET  /records/waiver/{waiver_standing.pk}/                    | every role | every role
GET  /records/procedure/{procedure.pk}/                       | every role | every role
GET  /records/procedure_revision/{procedure_revision_drafted.pk}/ | every role | every role
GET  /records/timeline_entry/{timeline_entry_standing.pk}/    | every role | every role
"""

NEW = """  # forms that make a record
GET POST  /new/activity/                                      | activity.plan
GET POST  /new/board_meeting/                                      | board_meeting.plan
GET POST  /new/failure_mode/                                  | failure_mode.add
GET POST  /new/hardware/                                      | hardware.add
GET POST  /new/lesson/                                        | lesson.add
GET POST  /new/requirement/                                   | requirement.add
GET POST  /new/standard_position/                             | standard_position.set
GET POST  /new/hardware_type/                                 | hardware_type.add
"""
