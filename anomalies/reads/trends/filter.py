"""What the trends are asked for; made from an address, and written as one."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass, fields, replace
from urllib.parse import urlencode

from anomalies.models import Activity
from anomalies.risk import Severity
from config.kit.addresses import read_choice, read_key

PERIODS = {"quarter": "Quarter", "year": "Year", "activity": "Activity"}
MEASURES = {"outings": "Outings", "hours": "Hours of activities"}
SPLITS = {"system": "System", "kind": "Kind of activity", "severity": "Severity"}
ENDS = {"now": "Up to now", "last": "Up to the last anomaly"}
CONFIDENCES = {"0.8": "80 %", "0.9": "90 %", "0.95": "95 %", "0.99": "99 %"}
CAUSES_BY = {"kind": "Kind of cause", "system": "System"}
NOT_ASSESSED = "0"
SEVERITIES = {str(value): label for value, label in Severity.choices} | {NOT_ASSESSED: "Not assessed"}
KINDS = dict(Activity.Kind.choices)


@dataclass(frozen=True, slots=True)
class TrendFilter:
    """The questions; what makes no sense in an address falls back to these.

    system : key of a type of hardware; kind : kind of the activity; both empty for all
    until : whether watching ended now, or with the last anomaly
    """

    period: str = "quarter"
    measure: str = "outings"
    system: str = ""
    kind: str = ""
    severity: str = ""
    split: str = ""
    until: str = "now"
    confidence: str = "0.9"
    causes_by: str = "kind"

    @classmethod
    def read(cls, query: Mapping[str, str]) -> TrendFilter:
        """Return what the address asks for."""
        return cls(
            period=read_choice(query, "period", PERIODS) or cls().period,
            measure=read_choice(query, "measure", MEASURES) or cls().measure,
            system=read_key(query, "system"),
            kind=read_choice(query, "kind", KINDS),
            severity=read_choice(query, "severity", SEVERITIES),
            split=read_choice(query, "split", SPLITS),
            until=read_choice(query, "until", ENDS) or cls().until,
            confidence=read_choice(query, "confidence", CONFIDENCES) or cls().confidence,
            causes_by=read_choice(query, "causes_by", CAUSES_BY) or cls().causes_by,
        )

    @property
    def query(self) -> str:
        """The address of the filter, without what is asked for anyway; ends in & unless it's empty."""
        usual = asdict(TrendFilter())
        given = urlencode({name: value for name, value in asdict(self).items() if value != usual[name]})
        return f"{given}&" if given else ""

    @property
    def is_narrow(self) -> bool:
        """Some anomalies are left out."""
        return bool(self.system or self.kind or self.severity)

    @property
    def level(self) -> float:
        """The confidence as a number."""
        return float(self.confidence)

    @property
    def unit(self) -> str:
        """What one unit of exposure is called."""
        return "hour" if self.measure == "hours" else "outing"

    @property
    def units(self) -> str:
        """What exposure is counted in."""
        return "hours" if self.measure == "hours" else "outings"

    def widened(self, **changes: str) -> TrendFilter:
        """Return the filter with other values."""
        return replace(self, **changes)


NAMES = tuple(field.name for field in fields(TrendFilter))
