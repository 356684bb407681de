"""Every operation of the JSON API and who may use it, by hand; the columns are those of pages_table.py.

A visitor is refused everywhere. Addresses are below /api/v1/.
"""

from __future__ import annotations

API = """
GET       schema/                                         | everyone

GET       trees/                                          | tree.view
POST      trees/                                          | tree.import
GET       trees/{tree.pk}/revisions/                      | every role | every role
POST      trees/{tree.pk}/revisions/                      | tree.revise | every role
GET       trees/{tree.pk}/revisions/1/changes/            | every role | every role
GET       trees/{tree.pk}/revisions/1/source/             | every role | every role
GET       trees/{tree.pk}/revisions/1/xml/                | every role | every role
GET       trees/{tree.pk}/revisions/1/model/              | every role | every role
GET       trees/{tree.pk}/revisions/1/diagram/            | every role | every role
GET       trees/{tree.pk}/revisions/1/report/             | every role | every role
GET       trees/{tree.pk}/revisions/1/runs/               | every role | every role
POST      trees/{tree.pk}/revisions/1/runs/               | run.request | every role
GET       trees/{tree.pk}/variants/                       | every role | every role
POST      trees/{tree.pk}/variants/                       | variant.add | every role
GET       trees/{tree.pk}/variants/comparison/            | every role | every role
GET       variants/{variant.pk}/                          | every role | every role
POST      variants/{variant.pk}/change/                   | variant.change | every role
POST      variants/{variant.pk}/remove/                   | variant.remove | every role
GET       library/                                        | tree.view
POST      library/                                        | library.change
GET       library/data-sets/                              | tree.view
GET       library/{shared.pk}/                            | every role | every role
POST      library/{shared.pk}/change/                     | library.change | every role
GET       runs/{run_done.pk}/                             | every role | every role
GET       runs/{run_done.pk}/result/                      | every role | every role
GET       runs/{run_done.pk}/cut-sets/                    | every role | every role
GET       runs/{run_done.pk}/importance/                  | every role | every role
POST      runs/{run_queued.pk}/cancel/                    | run.cancel | every role

GET POST  tokens/                                         | access_token.make
GET       tokens/{access_token_usable.pk}/                | who made it | who made it
POST      tokens/{access_token_usable.pk}/revoke/         | access_token.revoke | who made it
GET POST  calendar-keys/                                  | calendar_key.make
GET       calendar-keys/{calendar_key_usable.pk}/         | who made it | who made it
POST      calendar-keys/{calendar_key_usable.pk}/revoke/  | calendar_key.revoke | who made it
GET       people/                                         | anomaly.view
GET       search/                                         | everyone
GET       trends/                                         | anomaly.view
GET       trends/records/?what=all                        | anomaly.view
GET       records/finding/{finding_adopted.pk}/history/   | every role | every role
GET       records/finding/{finding_adopted.pk}/signatures/ | every role | every role
GET       records/access_token/{access_token_usable.pk}/history/ | who made it | who made it
GET       records/anomaly/{anomaly_draft.pk}/history/     | who made it | who made it

GET       anomalies/                                      | anomaly.view
POST      anomalies/                                      | anomaly.report
GET       anomalies/{anomaly_open.number}/                | every role | every role
PATCH     anomalies/{anomaly_open.number}/                | anomaly.edit @open | every role
PATCH     anomalies/{anomaly_reported.number}/            | anomaly.edit @reported | every role
GET       anomalies/{anomaly_open.number}/history/        | every role | every role
POST      anomalies/{anomaly_reported.number}/screen/     | anomaly.screen | every role
POST      anomalies/{anomaly_reported.number}/dismiss/    | anomaly.dismiss | every role
POST      anomalies/{anomaly_dismissed.number}/restore/   | anomaly.restore | every role
POST      anomalies/{anomaly_open.number}/reassess/       | anomaly.reassess | every role
POST      anomalies/{anomaly_open.number}/assign/         | anomaly.assign | every role
POST      anomalies/{anomaly_open.number}/add-hardware/   | anomaly.edit @open | every role
POST      anomalies/{anomaly_open.number}/remove-hardware/ | anomaly.edit @open | every role
POST      anomalies/{anomaly_open.number}/constrain/      | anomaly.constrain | every role
POST      anomalies/{anomaly_open.number}/link/           | anomaly.link | every role
GET       anomalies/{anomaly_open.number}/evidence/       | every role | every role
POST      anomalies/{anomaly_open.number}/evidence/       | anomaly.gather | every role
GET       anomalies/{anomaly_open.number}/timeline/       | every role | every role
POST      anomalies/{anomaly_open.number}/timeline/       | anomaly.gather | every role
GET       anomalies/{anomaly_open.number}/board/          | every role | every role
POST      anomalies/{anomaly_open.number}/board/          | anomaly.seat | every role
POST      anomalies/{anomaly_open.number}/board/unseat/   | anomaly.seat | every role
POST      anomalies/{anomaly_open.number}/findings/       | finding.propose | every role
POST      anomalies/{anomaly_open.number}/causes/         | cause.state | every role
POST      anomalies/{anomaly_open.number}/actions/        | action.propose | every role
POST      anomalies/{anomaly_open.number}/accept-unexplained/ | anomaly.accept_unexplained | every role
POST      anomalies/{anomaly_accepted.number}/retract-acceptance/ | anomaly.retract_acceptance | every role
POST      anomalies/{anomaly_accepted.number}/close/      | anomaly.close | every role
POST      anomalies/{anomaly_closed.number}/reopen/       | anomaly.reopen | every role

GET       drafts/{anomaly_draft.pk}/                      | who made it | who made it
PATCH     drafts/{anomaly_draft.pk}/                      | anomaly.edit @draft | who made it
POST      drafts/{anomaly_draft.pk}/submit/               | anomaly.submit | who made it
POST      drafts/{anomaly_draft.pk}/discard/              | anomaly.discard | who made it

GET       constraints/                                    | anomaly.view
GET       constraints/{constraint_in_force.pk}/           | every role | every role
POST      constraints/{constraint_in_force.pk}/resolve/   | constraint.resolve | every role
POST      constraints/{constraint_resolved.pk}/reinstate/ | constraint.reinstate | every role
GET       links/                                          | anomaly.view
GET       links/{link_standing.pk}/                       | every role | every role
POST      links/{link_standing.pk}/withdraw/              | link.withdraw | every role

GET       evidence/                                       | anomaly.view
GET       evidence/{evidence_held.pk}/                    | every role | every role
PATCH     evidence/{evidence_held.pk}/                    | evidence.describe | every role
POST      evidence/{evidence_held.pk}/withdraw/           | evidence.withdraw | every role
GET       evidence/{evidence_held.pk}/file/               | evidence.open | every role
GET       evidence/{evidence_held.pk}/openings/           | every role | every role
GET       evidence/{telemetry.pk}/telemetry/              | every role | every role
GET       timeline/{timeline_entry_standing.pk}/          | every role | every role
PATCH     timeline/{timeline_entry_standing.pk}/          | timeline_entry.edit | every role
POST      timeline/{timeline_entry_standing.pk}/withdraw/ | timeline_entry.withdraw | every role

GET       findings/                                       | anomaly.view
GET       findings/{finding_proposed.pk}/                 | every role | every role
PATCH     findings/{finding_proposed.pk}/                 | finding.edit | every role
POST      findings/{finding_proposed.pk}/rest-on/         | finding.edit | every role
POST      findings/{finding_proposed.pk}/state-position/  | finding.state_position | every role
POST      findings/{finding_proposed.pk}/adopt/           | finding.adopt | every role
POST      findings/{finding_adopted.pk}/send-back/        | finding.send_back | every role
POST      findings/{finding_proposed.pk}/withdraw/        | finding.withdraw | every role

GET       causes/                                         | anomaly.view
GET       causes/{cause_open.pk}/                         | every role | every role
PATCH     causes/{cause_open.pk}/                         | cause.edit | every role
POST      causes/{cause_open.pk}/rest-on/                 | cause.edit | every role
POST      causes/{cause_open.pk}/find-credible/           | cause.find_credible | every role
POST      causes/{cause_open.pk}/rule-out/                | cause.rule_out | every role
POST      causes/{cause_open.pk}/confirm/                 | cause.confirm | every role
POST      causes/{cause_confirmed.pk}/reconsider/         | cause.reconsider | every role

GET       anomalies/{investigation_under_way.anomaly.number}/investigation/ | every role | every role
POST      anomalies/{anomaly_open.number}/investigation/  | investigation.open | every role
GET       investigations/                                 | anomaly.view
GET       investigations/{investigation_under_way.pk}/    | every role | every role
POST      investigations/{investigation_under_way.pk}/judge/ | investigation.judge | every role
POST      investigations/{investigation_under_way.pk}/weigh/ | investigation.weigh | every role
POST      investigations/{investigation_under_way.pk}/plan-inspection/ | investigation.plan_inspection | every role
POST      investigations/{investigation_under_way.pk}/set-time/ | investigation.set_time | every role
POST      investigations/{investigation_under_way.pk}/take-up/ | investigation.take_up | every role
POST      investigations/{investigation_under_way.pk}/conclude/ | investigation.conclude | every role
POST      investigations/{investigation_concluded.pk}/resume/ | investigation.resume | every role
GET       inspections/{inspection_possible.pk}/           | every role | every role
PATCH     inspections/{inspection_possible.pk}/           | inspection.edit | every role
POST      inspections/{inspection_possible.pk}/carry-out/ | inspection.carry_out | every role
POST      inspections/{inspection_possible.pk}/drop/      | inspection.drop | every role
GET       anomalies/{investigation_under_way.anomaly.number}/benefit/ | every role | every role
POST      investigations/{investigation_under_way.pk}/take-baseline/ | investigation.take_baseline | every role
GET       actions/{action_proposed.number}/effects/     | every role | every role
POST      actions/{action_proposed.number}/state-effect/ | action.state_effect | every role
POST      actions/{action_proposed.number}/estimate/    | action.state_effect | every role
POST      actions/{action_proposed.number}/tie/         | action.tie | every role
GET       failure-modes/                                | anomaly.view
GET       failure-modes/{failure_mode.pk}/              | every role | every role
POST      failure-modes/{failure_mode.pk}/propose-update/ | parameter_update.propose | every role
GET       exposure/{exposure_standing.pk}/              | every role | every role
POST      exposure/{exposure_standing.pk}/withdraw/     | exposure.withdraw | every role
GET       updates/{parameter_update_proposed.pk}/       | every role | every role
POST      updates/{parameter_update_proposed.pk}/accept/ | parameter_update.accept | every role
POST      updates/{parameter_update_proposed.pk}/refuse/ | parameter_update.refuse | every role
POST      updates/{parameter_update_proposed.pk}/withdraw/ | parameter_update.withdraw | every role
GET       effects/{effect_standing.pk}/                 | every role | every role
POST      effects/{effect_standing.pk}/withdraw/        | effect.withdraw | every role
GET       action-ties/{action_tie_standing.pk}/         | every role | every role
POST      action-ties/{action_tie_standing.pk}/withdraw/ | action_tie.withdraw | every role
GET       bearings/{bearing_standing.pk}/                 | every role | every role
POST      bearings/{bearing_standing.pk}/withdraw/        | bearing.withdraw | every role

GET       actions/                                        | action.view
GET       actions/{action_done.number}/                   | every role | every role
PATCH     actions/{action_committed.number}/              | action.edit @committed | every role
PATCH     actions/{action_proposed.number}/               | action.edit @proposed | every role
POST      actions/{action_committed.number}/address-causes/ | action.edit @committed | every role
POST      actions/{action_proposed.number}/commit/        | action.commit | every role
POST      actions/{action_committed.number}/recommit/     | action.recommit | every role
POST      actions/{action_committed.number}/do/           | action.do | every role
POST      actions/{action_done.number}/verify/            | action.verify | every role
POST      actions/{action_done.number}/send-back/         | action.send_back | every role
POST      actions/{action_verified.number}/find-effective/ | action.find_effective | every role
POST      actions/{action_proposed.number}/drop/          | action.drop | every role
POST      actions/{action_verified.number}/reopen/        | action.reopen | every role

GET       activities/                                     | activity.view
POST      activities/                                     | activity.plan
GET       activities/{activity_planned.pk}/               | every role | every role
PATCH     activities/{activity_planned.pk}/               | activity.edit | every role
POST      activities/{activity_planned.pk}/add-crew/      | activity.edit | every role
POST      activities/{activity_planned.pk}/remove-crew/   | activity.edit | every role
POST      activities/{activity_planned.pk}/add-hardware/  | activity.edit | every role
POST      activities/{activity_planned.pk}/remove-hardware/ | activity.edit | every role
POST      activities/{activity_planned.pk}/add-procedure/ | activity.edit | every role
POST      activities/{activity_planned.pk}/remove-procedure/ | activity.edit | every role
POST      activities/{activity_planned.pk}/start/         | activity.start | every role
POST      activities/{activity_planned.pk}/scrub/         | activity.scrub | every role
POST      activities/{activity_under_way.pk}/complete/    | activity.complete | every role
POST      activities/{activity_under_way.pk}/end-early/   | activity.end_early | every role

GET       activities/{coming.pk}/readiness/               | every role | every role
GET       activities/{coming.pk}/since/                   | every role | every role
POST      activities/{activity_planned.pk}/open-review/   | readiness_review.open | every role
POST      activities/{coming.pk}/set-position/            | poll_position.set | every role
POST      activities/{coming.pk}/drop-position/           | poll_position.set | every role
POST      activities/{coming.pk}/record-fulfilment/       | fulfilment.record | every role
POST      activities/{coming.pk}/grant-waiver/            | waiver.grant | every role
GET       activities/{coming.pk}/brief-shares/            | every role | every role
POST      activities/{coming.pk}/brief-shares/            | brief_share.make | every role
GET       brief-shares/{brief_share_usable.pk}/           | every role | every role
POST      brief-shares/{brief_share_usable.pk}/revoke/    | brief_share.revoke | every role
GET       meetings/                                       | anomaly.view
POST      meetings/                                       | board_meeting.plan
GET       meetings/{board_meeting_planned.pk}/            | every role | every role
PATCH     meetings/{board_meeting_planned.pk}/            | board_meeting.edit | every role
GET       meetings/{board_meeting_planned.pk}/agenda/     | every role | every role
GET       meetings/{board_meeting_held.pk}/minutes/       | every role | every role
GET       meetings/{board_meeting_held.pk}/decisions/     | every role | every role
POST      meetings/{board_meeting_planned.pk}/attend/     | board_meeting.attend | every role
POST      meetings/{board_meeting_planned.pk}/open/       | board_meeting.open | every role
POST      meetings/{board_meeting_under_way.pk}/decide/   | board_meeting.decide | every role
POST      meetings/{board_meeting_under_way.pk}/end/      | board_meeting.end | every role
POST      meetings/{board_meeting_planned.pk}/cancel/     | board_meeting.cancel | every role
GET       meeting-decisions/{meeting_decision_standing.pk}/ | every role | every role
POST      meeting-decisions/{meeting_decision_standing.pk}/withdraw/ | meeting_decision.withdraw | every role
GET       reviews/{readiness_review_signed.pk}/           | every role | every role
GET       reviews/{readiness_review_signed.pk}/snapshots/ | every role | every role
POST      reviews/{readiness_review_under_way.pk}/conclude/ | readiness_review.conclude | every role
POST      reviews/{readiness_review_signed.pk}/resume/    | readiness_review.resume | every role
POST      positions/{coming_position.pk}/answer/          | poll_position.answer | every role
POST      answers/{poll_answer.pk}/settle/                | poll_answer.settle | every role
GET       waivers/{waiver_standing.pk}/                   | every role | every role
POST      waivers/{waiver_standing.pk}/withdraw/          | waiver.withdraw | every role
GET       fulfilments/{fulfilment_standing.pk}/           | every role | every role
POST      fulfilments/{fulfilment_standing.pk}/withdraw/  | fulfilment.withdraw | every role
GET       activities/{coming.pk}/brief/                   | every role | every role
GET       activities/{coming.pk}/brief/pdf/               | every role | every role
GET       anomalies/{anomaly_open.number}/report/         | every role | every role
GET       lessons/                                        | anomaly.view
POST      lessons/                                        | lesson.add
GET       lessons/{lesson_issued.number}/                 | every role | every role
PATCH     lessons/{lesson_drafted.number}/                | lesson.edit | every role
POST      lessons/{lesson_drafted.number}/place/          | lesson.place | every role
POST      lessons/{lesson_drafted.number}/drop-place/     | lesson.place | every role
POST      lessons/{lesson_drafted.number}/issue/          | lesson.issue | every role
POST      lessons/{lesson_issued.number}/decide/          | lesson.decide | every role
POST      lessons/{lesson_issued.number}/retire/          | lesson.retire | every role
POST      lessons/{lesson_retired.number}/restore/        | lesson.restore | every role
GET       lesson-uses/{lesson_use_standing.pk}/           | every role | every role
POST      lesson-uses/{lesson_use_standing.pk}/tie/       | lesson_use.tie | every role
POST      lesson-uses/{lesson_use_standing.pk}/withdraw/  | lesson_use.withdraw | every role
GET       anomalies/{anomaly_open.number}/lessons/        | every role | every role
GET       activities/{activity_planned.pk}/lessons/       | every role | every role
GET       procedures/{procedure.number}/lessons/          | every role | every role

GET       requirements/                                   | activity.view
POST      requirements/                                   | requirement.add
GET       requirements/{requirement_in_use.pk}/           | every role | every role
PATCH     requirements/{requirement_in_use.pk}/           | requirement.edit | every role
POST      requirements/{requirement_in_use.pk}/retire/    | requirement.retire | every role
POST      requirements/{requirement_retired.pk}/restore/  | requirement.restore | every role
POST      standard-positions/                             | standard_position.set

GET       hardware/                                       | hardware.view
POST      hardware/                                       | hardware.add
GET       hardware/{hardware_in_service.pk}/              | every role | every role
PATCH     hardware/{hardware_in_service.pk}/              | hardware.edit | every role
POST      hardware/{hardware_in_service.pk}/install/      | hardware.install | every role
POST      hardware/{hardware_installed.pk}/remove/        | hardware.remove | every role
POST      hardware/{hardware_in_service.pk}/quarantine/   | hardware.quarantine | every role
POST      hardware/{hardware_quarantined.pk}/release/     | hardware.release | every role
POST      hardware/{hardware_in_service.pk}/retire/       | hardware.retire | every role
GET       hardware-types/                                 | hardware.view
POST      hardware-types/                                 | hardware_type.add
GET       hardware-types/{type.pk}/                       | every role | every role
GET       installations/                                  | hardware.view

GET       procedures/                                     | procedure.view
POST      procedures/                                     | procedure.add
GET       procedures/{procedure.number}/                  | every role | every role
PATCH     procedures/{procedure.number}/                  | procedure.edit | every role
GET       procedures/{procedure.number}/revisions/        | every role | every role
POST      procedures/{procedure.number}/revisions/        | procedure.draft | every role
GET       {released_at}/                                  | every role | every role
PATCH     {drafted_at}/                                   | procedure_revision.edit | every role
GET       {released_at}/redline/                          | every role | every role
GET       {released_at}/readers/                          | every role | every role
POST      {drafted_at}/steps/                             | procedure_revision.edit | every role
POST      {drafted_at}/steps/{step}/change/               | procedure_revision.edit | every role
POST      {drafted_at}/steps/{step}/move/                 | procedure_revision.edit | every role
POST      {drafted_at}/steps/{step}/delete/               | procedure_revision.edit | every role
POST      {drafted_at}/steps/{step}/notices/              | procedure_revision.edit | every role
POST      {drafted_at}/notices/{notice}/change/           | procedure_revision.edit | every role
POST      {drafted_at}/notices/{notice}/remove/           | procedure_revision.edit | every role
POST      {drafted_at}/submit/                            | procedure_revision.submit | every role
POST      {submitted_at}/approve/                         | procedure_revision.approve | every role
POST      {submitted_at}/send-back/                       | procedure_revision.send_back | every role
POST      {approved_at}/release/                          | procedure_revision.release | every role
POST      {drafted_at}/withdraw/                          | procedure_revision.withdraw @drafted | every role
POST      {released_at}/withdraw/                         | procedure_revision.withdraw @released | every role
POST      {released_at}/acknowledge/                      | procedure_revision.acknowledge | every role
"""
