"""Who may do what, by hand, from what each role is there for.

A recorder is crew or a flight controller: reports, and adds evidence. A board member investigates and decides on causes
and actions. A safety engineer does too, screens, constrains, accepts risk, closes, approves, and keeps the trees. An
action owner does actions and writes procedures. A verifier confirms what others did. An activity lead runs activities,
keeps hardware and puts procedures in force. A viewer reads. An administrator runs activities and keeps hardware.

A row holds a rule, then the states it's for if it isn't the same in all, then who may.
"""

from __future__ import annotations

RULES = """
access_token.make            | everyone
access_token.revoke          | who made it
calendar_key.make            | everyone
calendar_key.revoke          | who made it

activity.view                | every role
activity.plan                | activity lead, administrator
activity.edit                | activity lead, administrator
activity.start               | activity lead, administrator
activity.complete            | activity lead, administrator
activity.end_early           | activity lead, administrator
activity.scrub               | activity lead, administrator

hardware.view                | every role
hardware.add                 | activity lead, administrator
hardware.edit                | activity lead, administrator
hardware.install             | activity lead, administrator
hardware.remove              | activity lead, administrator
hardware.quarantine          | activity lead, administrator
hardware.release             | activity lead, administrator
hardware.retire              | activity lead, administrator
hardware_type.add            | activity lead, administrator
installation.end             | activity lead, administrator

anomaly.view                 | every role
anomaly.report               | recorder, board member, safety engineer, activity lead
anomaly.edit @draft          | who made it
anomaly.edit @reported       | board member, safety engineer, who made it
anomaly.edit @open           | board member, safety engineer
anomaly.submit               | who made it
anomaly.discard              | who made it
anomaly.screen               | safety engineer
anomaly.dismiss              | safety engineer
anomaly.restore              | safety engineer
anomaly.reassess             | safety engineer
anomaly.assign               | safety engineer
anomaly.constrain            | safety engineer
anomaly.link                 | board member, safety engineer
anomaly.gather               | recorder, board member, safety engineer, action owner, verifier, activity lead
anomaly.seat                 | safety engineer, who leads it
anomaly.lead                 | board member, safety engineer
anomaly.sit                  | board member, safety engineer
anomaly.investigate          | every role
anomaly.accept_unexplained   | safety engineer
anomaly.retract_acceptance   | safety engineer
anomaly.close                | safety engineer
anomaly.reopen               | board member, safety engineer

constraint.resolve           | safety engineer
constraint.reinstate         | safety engineer
link.withdraw                | board member, safety engineer

evidence.open                | every role
evidence.describe            | board member, safety engineer, who made it
evidence.withdraw            | board member, safety engineer, who made it
timeline_entry.edit          | board member, safety engineer, who made it
timeline_entry.withdraw      | board member, safety engineer, who made it

finding.propose              | board member, safety engineer
finding.edit                 | who leads it
finding.state_position       | who leads it
finding.adopt                | board member, safety engineer
finding.send_back            | board member, safety engineer
finding.withdraw             | who leads it

cause.state                  | board member, safety engineer
cause.edit                   | board member, safety engineer
cause.find_credible          | board member, safety engineer
cause.rule_out               | board member, safety engineer
cause.confirm                | board member, safety engineer
cause.reconsider             | board member, safety engineer

investigation.open           | board member, safety engineer
investigation.judge          | board member, safety engineer
investigation.weigh          | board member, safety engineer
investigation.plan_inspection| board member, safety engineer
investigation.set_time       | board member, safety engineer
investigation.take_up        | board member, safety engineer
investigation.conclude       | board member, safety engineer
investigation.resume         | board member, safety engineer
investigation.take_baseline  | safety engineer
inspection.edit              | board member, safety engineer
inspection.carry_out         | board member, safety engineer
inspection.drop              | board member, safety engineer
bearing.withdraw             | board member, safety engineer

action.view                  | every role
action.propose               | board member, safety engineer, action owner, activity lead
action.own                   | board member, safety engineer, action owner, activity lead
action.edit @proposed        | board member, safety engineer
action.edit @committed       | board member, safety engineer, who owns it
action.commit                | board member, safety engineer
action.recommit              | board member, safety engineer
action.do                    | action owner, activity lead
action.verify                | verifier; never who owns it
action.send_back             | verifier, board member, safety engineer; never who owns it
action.find_effective        | board member, safety engineer
action.drop                  | board member, safety engineer
action.reopen                | board member, safety engineer

action.state_effect          | board member, safety engineer
action.tie                   | board member, safety engineer
effect.withdraw              | board member, safety engineer
action_tie.withdraw          | board member, safety engineer

failure_mode.add             | safety engineer
failure_mode.edit            | safety engineer
occurrence.name              | board member, safety engineer
exposure.enter               | safety engineer, activity lead, administrator
exposure.withdraw            | safety engineer, activity lead, administrator
parameter_update.propose     | safety engineer
parameter_update.accept      | safety engineer
parameter_update.refuse      | safety engineer
parameter_update.withdraw    | safety engineer

lesson.add                   | board member, safety engineer, activity lead
lesson.edit                  | board member, safety engineer, activity lead
lesson.place                 | board member, safety engineer, activity lead
lesson.issue                 | board member, safety engineer, activity lead  # and never its author
lesson.decide                | board member, safety engineer, action owner, activity lead
lesson.retire                | board member, safety engineer, activity lead
lesson.restore               | board member, safety engineer, activity lead
lesson_use.tie               | board member, safety engineer, action owner, activity lead
lesson_use.withdraw          | board member, safety engineer, action owner, activity lead

requirement.add              | activity lead, administrator
requirement.edit             | activity lead, administrator
requirement.retire           | activity lead, administrator
requirement.restore          | activity lead, administrator
standard_position.set        | activity lead, administrator
fulfilment.record            | recorder, board member, safety engineer, action owner, verifier, activity lead
fulfilment.withdraw          | activity lead, administrator, who made it
readiness_review.view        | every role
brief_share.make             | safety engineer, activity lead
brief_share.revoke           | safety engineer, activity lead
readiness_review.open        | safety engineer, activity lead
readiness_review.resume      | safety engineer, activity lead
readiness_review.conclude    | safety engineer, activity lead
poll_position.set            | safety engineer, activity lead
poll_position.answer         | who made it  # who holds the position, in this world
poll_answer.settle           | safety engineer, activity lead
waiver.grant                 | safety engineer
waiver.withdraw              | safety engineer

board_meeting.plan           | board member, safety engineer
board_meeting.edit           | board member, safety engineer
board_meeting.attend         | board member, safety engineer
board_meeting.open           | board member, safety engineer
board_meeting.decide         | board member, safety engineer
board_meeting.end            | board member, safety engineer
board_meeting.cancel         | board member, safety engineer
meeting_decision.withdraw    | board member, safety engineer

procedure.view               | every role
procedure.add                | safety engineer, action owner, activity lead
procedure.edit               | safety engineer, action owner, activity lead
procedure.draft              | safety engineer, action owner, activity lead
procedure_revision.edit      | safety engineer, action owner, activity lead
procedure_revision.submit    | safety engineer, action owner, activity lead
procedure_revision.approve   | safety engineer, verifier; never who wrote it
procedure_revision.send_back | safety engineer, action owner, activity lead, verifier
procedure_revision.release   | activity lead, administrator
procedure_revision.supersede | activity lead, administrator
procedure_revision.acknowledge | every role
procedure_revision.withdraw @drafted @submitted @approved | safety engineer, action owner, activity lead
procedure_revision.withdraw @released @superseded | activity lead, administrator

tree.view                    | every role
tree.import                  | safety engineer
tree.revise                  | safety engineer
run.request                  | safety engineer
run.cancel                   | safety engineer
draft.open                   | safety engineer
draft.edit                   | safety engineer
library.change               | safety engineer
variant.add                  | safety engineer
variant.change               | safety engineer
variant.remove               | safety engineer
"""

RUN_MOVES = {  # moves of runs -> the rule, or "" for what only the service itself does
    "cancel": "run.cancel",
    "repeat": "run.request",
    "claim": "",
    "finish": "",
    "fail": "",
    "requeue": "",
}
