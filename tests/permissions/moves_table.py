"""The page of every move and who may make it, by hand; the columns are those of pages_table.py.

Each stands on a record in a state that allows the move.
"""

from __future__ import annotations

MOVES = """
access_token/{access_token_usable.pk}/revoke/             | access_token.revoke | who made it

brief_share/{brief_share_usable.pk}/revoke/               | brief_share.revoke
calendar_key/{calendar_key_usable.pk}/revoke/             | calendar_key.revoke | who made it

board_meeting/{board_meeting_planned.pk}/edit/            | board_meeting.edit
board_meeting/{board_meeting_planned.pk}/attend/          | board_meeting.attend
board_meeting/{board_meeting_planned.pk}/open/            | board_meeting.open
board_meeting/{board_meeting_planned.pk}/cancel/          | board_meeting.cancel
board_meeting/{board_meeting_under_way.pk}/decide/        | board_meeting.decide
board_meeting/{board_meeting_under_way.pk}/end/           | board_meeting.end
meeting_decision/{meeting_decision_standing.pk}/withdraw/ | meeting_decision.withdraw

activity/{activity_planned.pk}/edit/                      | activity.edit
activity/{activity_planned.pk}/add-crew/                  | activity.edit
activity/{activity_planned.pk}/remove-crew/               | activity.edit
activity/{activity_planned.pk}/add-hardware/              | activity.edit
activity/{activity_planned.pk}/remove-hardware/           | activity.edit
activity/{activity_planned.pk}/use-procedure/             | activity.edit
activity/{activity_planned.pk}/drop-procedure/            | activity.edit
activity/{activity_planned.pk}/start/                     | activity.start
activity/{activity_planned.pk}/scrub/                     | activity.scrub
activity/{activity_under_way.pk}/complete/                | activity.complete
activity/{activity_under_way.pk}/end-early/               | activity.end_early

hardware/{hardware_in_service.pk}/edit/                   | hardware.edit
hardware/{hardware_in_service.pk}/install/                | hardware.install
hardware/{hardware_installed.pk}/remove/                  | hardware.remove
hardware/{hardware_in_service.pk}/quarantine/             | hardware.quarantine
hardware/{hardware_quarantined.pk}/release/               | hardware.release
hardware/{hardware_in_service.pk}/retire/                 | hardware.retire

anomaly/{anomaly_draft.pk}/edit/                          | anomaly.edit @draft | who made it
anomaly/{anomaly_draft.pk}/discard/                       | anomaly.discard | who made it
anomaly/{anomaly_reported.pk}/edit/                       | anomaly.edit @reported
anomaly/{anomaly_open.pk}/edit/                           | anomaly.edit @open
anomaly/{anomaly_open.pk}/add-hardware/                   | anomaly.edit @open
anomaly/{anomaly_open.pk}/remove-hardware/                | anomaly.edit @open
anomaly/{anomaly_reported.pk}/screen/                     | anomaly.screen
anomaly/{anomaly_reported.pk}/dismiss/                    | anomaly.dismiss
anomaly/{anomaly_dismissed.pk}/restore/                   | anomaly.restore
anomaly/{anomaly_open.pk}/reassess/                       | anomaly.reassess
anomaly/{anomaly_open.pk}/assign/                         | anomaly.assign
anomaly/{anomaly_open.pk}/constrain/                      | anomaly.constrain
anomaly/{anomaly_open.pk}/link/                           | anomaly.link
anomaly/{anomaly_open.pk}/add-photographs/                | anomaly.gather
anomaly/{anomaly_open.pk}/add-documents/                  | anomaly.gather
anomaly/{anomaly_open.pk}/add-statement/                  | anomaly.gather
anomaly/{anomaly_open.pk}/add-telemetry/                  | anomaly.gather
anomaly/{anomaly_open.pk}/add-web-link/                   | anomaly.gather
anomaly/{anomaly_open.pk}/add-timeline-entry/             | anomaly.gather
anomaly/{anomaly_open.pk}/seat/                           | anomaly.seat
anomaly/{anomaly_open.pk}/unseat/                         | anomaly.seat
anomaly/{anomaly_open.pk}/propose-finding/                | finding.propose
anomaly/{anomaly_open.pk}/state-cause/                    | cause.state
anomaly/{anomaly_open.pk}/open-investigation/             | investigation.open
anomaly/{anomaly_open.pk}/name-failure-mode/              | occurrence.name
anomaly/{anomaly_open.pk}/take-back-failure-mode/         | occurrence.name
anomaly/{anomaly_open.pk}/propose-action/                 | action.propose
anomaly/{anomaly_open.pk}/accept-unexplained/             | anomaly.accept_unexplained
anomaly/{anomaly_accepted.pk}/retract-acceptance/         | anomaly.retract_acceptance
anomaly/{anomaly_accepted.pk}/close/                      | anomaly.close
anomaly/{anomaly_closed.pk}/reopen/                       | anomaly.reopen

constraint/{constraint_in_force.pk}/resolve/              | constraint.resolve
constraint/{constraint_resolved.pk}/reinstate/            | constraint.reinstate
link/{link_standing.pk}/withdraw/                         | link.withdraw

evidence/{evidence_held.pk}/describe/                     | evidence.describe
evidence/{evidence_held.pk}/withdraw/                     | evidence.withdraw
timeline_entry/{timeline_entry_standing.pk}/edit/         | timeline_entry.edit
timeline_entry/{timeline_entry_standing.pk}/withdraw/     | timeline_entry.withdraw

finding/{finding_proposed.pk}/edit/                       | finding.edit
finding/{finding_proposed.pk}/rest-on/                    | finding.edit
finding/{finding_proposed.pk}/state-position/             | finding.state_position
finding/{finding_proposed.pk}/adopt/                      | finding.adopt
finding/{finding_adopted.pk}/send-back/                   | finding.send_back
finding/{finding_proposed.pk}/withdraw/                   | finding.withdraw

cause/{cause_open.pk}/edit/                               | cause.edit
cause/{cause_open.pk}/rest-on/                            | cause.edit
cause/{cause_open.pk}/find-credible/                      | cause.find_credible
cause/{cause_open.pk}/rule-out/                           | cause.rule_out
cause/{cause_open.pk}/confirm/                            | cause.confirm
cause/{cause_confirmed.pk}/reconsider/                    | cause.reconsider

action/{action_proposed.pk}/edit/                         | action.edit @proposed
action/{action_committed.pk}/edit/                        | action.edit @committed
action/{action_committed.pk}/address/                     | action.edit @committed
action/{action_proposed.pk}/commit/                       | action.commit
action/{action_committed.pk}/recommit/                    | action.recommit
action/{action_committed.pk}/do/                          | action.do
action/{action_done.pk}/verify/                           | action.verify
action/{action_done.pk}/send-back/                        | action.send_back
action/{action_verified.pk}/find-effective/               | action.find_effective
action/{action_proposed.pk}/drop/                         | action.drop
action/{action_verified.pk}/reopen/                       | action.reopen
action/{action_proposed.pk}/state-effect/                 | action.state_effect
action/{action_done.pk}/estimate/                         | action.state_effect
action/{action_proposed.pk}/tie/                          | action.tie
effect/{effect_standing.pk}/withdraw/                     | effect.withdraw
action_tie/{action_tie_standing.pk}/withdraw/             | action_tie.withdraw

investigation/{investigation_under_way.pk}/judge/         | investigation.judge
investigation/{investigation_under_way.pk}/weigh/         | investigation.weigh
investigation/{investigation_under_way.pk}/plan-inspection/ | investigation.plan_inspection
investigation/{investigation_under_way.pk}/set-time/      | investigation.set_time
investigation/{investigation_under_way.pk}/take-up/       | investigation.take_up
investigation/{investigation_under_way.pk}/conclude/      | investigation.conclude
investigation/{investigation_concluded.pk}/resume/        | investigation.resume
investigation/{investigation_concluded.pk}/take-baseline/ | investigation.take_baseline
inspection/{inspection_possible.pk}/edit/                 | inspection.edit
inspection/{inspection_possible.pk}/carry-out/            | inspection.carry_out
inspection/{inspection_possible.pk}/drop/                 | inspection.drop
bearing/{bearing_standing.pk}/withdraw/                   | bearing.withdraw

hardware_type/{type.pk}/enter-exposure/                   | exposure.enter
hardware_type/{type.pk}/import-exposure/                  | exposure.enter
exposure/{exposure_standing.pk}/withdraw/                 | exposure.withdraw
failure_mode/{failure_mode.pk}/edit/                      | failure_mode.edit
failure_mode/{failure_mode.pk}/propose-update/            | parameter_update.propose
parameter_update/{parameter_update_proposed.pk}/accept/   | parameter_update.accept
parameter_update/{parameter_update_proposed.pk}/refuse/   | parameter_update.refuse
parameter_update/{parameter_update_proposed.pk}/withdraw/ | parameter_update.withdraw

activity/{activity_planned.pk}/open-review/               | readiness_review.open
activity/{coming.pk}/set-position/                        | poll_position.set
activity/{coming.pk}/drop-position/                       | poll_position.set
activity/{coming.pk}/record-fulfilment/                   | fulfilment.record
activity/{coming.pk}/grant-waiver/                        | waiver.grant
fulfilment/{fulfilment_standing.pk}/withdraw/             | fulfilment.withdraw
lesson/{lesson_drafted.pk}/edit/                          | lesson.edit
lesson/{lesson_drafted.pk}/issue/                         | lesson.issue
lesson/{lesson_issued.pk}/add-place/                      | lesson.place
lesson/{lesson_drafted.pk}/drop-place/                    | lesson.place
lesson/{lesson_issued.pk}/accept/                         | lesson.decide
lesson/{lesson_issued.pk}/decline/                        | lesson.decide
lesson/{lesson_issued.pk}/retire/                         | lesson.retire
lesson/{lesson_retired.pk}/restore/                       | lesson.restore
lesson_use/{lesson_use_standing.pk}/tie/                  | lesson_use.tie
lesson_use/{lesson_use_standing.pk}/withdraw/             | lesson_use.withdraw
waiver/{waiver_standing.pk}/withdraw/                     | waiver.withdraw
poll_position/{coming_position.pk}/answer/                | poll_position.answer
poll_answer/{poll_answer.pk}/settle/                      | poll_answer.settle
readiness_review/{readiness_review_under_way.pk}/conclude/ | readiness_review.conclude
readiness_review/{readiness_review_signed.pk}/resume/     | readiness_review.resume
requirement/{requirement_in_use.pk}/edit/                 | requirement.edit
requirement/{requirement_in_use.pk}/retire/               | requirement.retire
requirement/{requirement_retired.pk}/restore/             | requirement.restore
standard_position/{standard_position.pk}/drop/            | standard_position.set

procedure/{procedure.pk}/rename/                          | procedure.edit
procedure/{procedure.pk}/draft-revision/                  | procedure.draft
procedure_revision/{procedure_revision_drafted.pk}/edit/          | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/add-step/      | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/change-step/?step={step} | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/move-step/?step={step} | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/delete-step/?step={step} | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/add-notice/?step={step} | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/change-notice/?step={notice} | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/remove-notice/?step={notice} | procedure_revision.edit
procedure_revision/{procedure_revision_drafted.pk}/submit/        | procedure_revision.submit
procedure_revision/{procedure_revision_submitted.pk}/approve/     | procedure_revision.approve
procedure_revision/{procedure_revision_submitted.pk}/send-back/   | procedure_revision.send_back
procedure_revision/{procedure_revision_approved.pk}/release/      | procedure_revision.release
procedure_revision/{procedure_revision_drafted.pk}/withdraw/      | procedure_revision.withdraw @drafted
procedure_revision/{procedure_revision_released.pk}/withdraw/     | procedure_revision.withdraw @released
procedure_revision/{procedure_revision_released.pk}/acknowledge/  | procedure_revision.acknowledge
"""
