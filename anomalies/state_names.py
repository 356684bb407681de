"""The states that each kind of record can be in. How one leads to another stands in states.py."""

from __future__ import annotations

from django.db.models import TextChoices


class ActivityState(TextChoices):
    """Where an activity stands."""

    PLANNED = "planned", "Planned"
    UNDER_WAY = "under_way", "Under way"
    COMPLETED = "completed", "Completed"
    ENDED_EARLY = "ended_early", "Ended early"
    SCRUBBED = "scrubbed", "Scrubbed"


class HardwareState(TextChoices):
    """Whether a hardware item may be used."""

    IN_SERVICE = "in_service", "In service"
    QUARANTINED = "quarantined", "Quarantined"
    RETIRED = "retired", "Retired"


class AnomalyState(TextChoices):
    """Where an anomaly stands."""

    DRAFT = "draft", "Draft"
    DISCARDED = "discarded", "Discarded"
    REPORTED = "reported", "Awaiting screening"
    DISMISSED = "dismissed", "Dismissed"
    OPEN = "open", "Open"
    CLOSED = "closed", "Closed"


class ConstraintState(TextChoices):
    """Whether a constraint holds."""

    IN_FORCE = "in_force", "In force"
    RESOLVED = "resolved", "Resolved"


class LinkState(TextChoices):
    """Whether a link between two anomalies stands."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class InstallationState(TextChoices):
    """Whether an item still is where it was installed."""

    INSTALLED = "installed", "Installed"
    REMOVED = "removed", "Removed"


class EvidenceState(TextChoices):
    """Whether a piece of evidence counts."""

    HELD = "held", "Held"
    WITHDRAWN = "withdrawn", "Withdrawn"


class TimelineState(TextChoices):
    """Whether an entry of a timeline counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class FindingState(TextChoices):
    """Where a finding stands."""

    PROPOSED = "proposed", "Before the board"
    ADOPTED = "adopted", "Adopted"
    WITHDRAWN = "withdrawn", "Withdrawn"


class CauseState(TextChoices):
    """The disposition of a cause."""

    OPEN = "open", "Open"
    CREDIBLE = "credible", "Credible"
    RULED_OUT = "ruled_out", "Ruled out"
    CONFIRMED = "confirmed", "Confirmed"


class ActionState(TextChoices):
    """Where a corrective action stands."""

    PROPOSED = "proposed", "Proposed"
    COMMITTED = "committed", "Committed"
    DONE = "done", "Awaiting verification"
    VERIFIED = "verified", "Verified"
    EFFECTIVE = "effective", "Effective"
    DROPPED = "dropped", "Dropped"


class RevisionState(TextChoices):
    """Where a revision of a procedure stands. A superseded one may still be in force for activities before the next."""

    DRAFTED = "drafted", "Drafted"
    SUBMITTED = "submitted", "Awaiting approval"
    APPROVED = "approved", "Approved"
    RELEASED = "released", "Released"
    SUPERSEDED = "superseded", "Superseded"
    WITHDRAWN = "withdrawn", "Withdrawn"


class TokenState(TextChoices):
    """Whether a secret still opens what it was made for: the API, a shared brief, or a calendar."""

    USABLE = "usable", "Usable"
    REVOKED = "revoked", "Revoked"


class InvestigationState(TextChoices):
    """Whether the tree of an anomaly is still worked on."""

    UNDER_WAY = "under_way", "Under way"
    CONCLUDED = "concluded", "Concluded"


class InspectionState(TextChoices):
    """Whether an inspection was carried out."""

    POSSIBLE = "possible", "Possible"
    CARRIED_OUT = "carried_out", "Carried out"
    DROPPED = "dropped", "Dropped"


class BearingState(TextChoices):
    """Whether what evidence says of an event counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class EffectState(TextChoices):
    """Whether a stated effect of an action counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class TieState(TextChoices):
    """Whether a tie between two actions counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class ExposureState(TextChoices):
    """Whether an entry of the exposure log counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class UpdateState(TextChoices):
    """What became of a proposed value."""

    PROPOSED = "proposed", "Proposed"
    ACCEPTED = "accepted", "Accepted"
    REFUSED = "refused", "Refused"
    WITHDRAWN = "withdrawn", "Withdrawn"


class RequirementState(TextChoices):
    """Whether activities of its kind are asked for it."""

    IN_USE = "in_use", "In use"
    RETIRED = "retired", "Retired"


class FulfilmentState(TextChoices):
    """Whether it counts that a requirement was met."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class ReviewState(TextChoices):
    """Where a readiness review stands."""

    UNDER_WAY = "under_way", "Under way"
    SIGNED = "signed", "Signed"


class WaiverState(TextChoices):
    """Whether a waiver holds; one that does has a day on which it expires."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class LessonState(TextChoices):
    """Where a lesson stands."""

    DRAFTED = "drafted", "Drafted"
    ISSUED = "issued", "Issued"
    RETIRED = "retired", "Retired"


class LessonUseState(TextChoices):
    """Whether a decision on a lesson counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"


class MeetingState(TextChoices):
    """Where a meeting of the board stands."""

    PLANNED = "planned", "Planned"
    UNDER_WAY = "under_way", "Under way"
    HELD = "held", "Held"
    CANCELLED = "cancelled", "Cancelled"


class DecisionState(TextChoices):
    """Whether a decision of a meeting counts."""

    STANDING = "standing", "Standing"
    WITHDRAWN = "withdrawn", "Withdrawn"
