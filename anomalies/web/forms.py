"""The form behind every move: it calls one service, and puts what the service refused beside the field it concerns.

Two people edit the same record: the second one's form comes back with both versions. What only the other one changed is
taken over; where both changed a field, the second one chooses. Nothing that was typed is lost.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, ClassVar, Generic, TypeVar

from django import forms
from django.contrib.auth.models import User
from django.db.models import Model, QuerySet
from django.http import QueryDict
from django.utils.datastructures import MultiValueDict

from anomalies.errors import EditConflict, Gap, Missing
from anomalies.models.base import Record
from anomalies.reads.history import Event, read_history_since
from anomalies.services.sign_off import PasswordProof, confirm_password
from anomalies.web.fields import name_of
from config.kit.errors import DomainError, NotAllowed

R = TypeVar("R", bound=Record)

MERGE = "Somebody else changed this while you were writing. Nothing is lost: look at both, then save again."


@dataclass(frozen=True, slots=True)
class Clash:
    """A field that both changed: what it was, what the other one made of it, and their value as the form sends it."""

    name: str
    label: str
    before: str
    theirs: str
    raw: tuple[str, ...]


class MoveForm(forms.Form, Generic[R]):
    """Base of all forms that make a move.

    versioned       carries the version that the person read; the service is told it as `self.seen`
    signed          asks for the password; the service is given `self.proof`
    intro           one sentence above the fields
    done            what the next page says when it worked
    columns         field -> column of the record, where they aren't called the same; for the merge
    layout          the template that lays the fields out, if not one below the other
    """

    versioned: ClassVar[bool] = False
    signed: ClassVar[bool] = False
    intro: ClassVar[str] = ""
    done: ClassVar[str] = "Saved."
    columns: ClassVar[Mapping[str, str]] = {}
    layout: ClassVar[str] = ""

    def __init__(self, data: Any = None, files: Any = None, *, record: R, actor: User, **kwargs: Any) -> None:
        self.record, self.actor = record, actor
        self.clashes: list[Clash] = []
        self.meanwhile: list[Event] = []
        self.gaps: tuple[Gap, ...] = ()
        self.status = 422
        initial = self.begin(record) | (kwargs.pop("initial", None) or {})
        super().__init__(_with_choices(data), files, initial=initial, **kwargs)
        if self.versioned:
            self.fields["version"] = forms.IntegerField(widget=forms.HiddenInput, initial=record.version)
        if self.signed:
            widget = forms.PasswordInput(attrs={"autocomplete": "current-password"})
            hint = "Your name, role, the time and the content as it is now are recorded with your signature."
            self.fields["password"] = forms.CharField(
                label="Your password, to sign", widget=widget, help_text=hint, strip=False
            )

    @classmethod
    def suits(cls, record: R) -> bool:
        """Tell whether the form makes sense for this record; more than its state may decide."""
        return True

    @classmethod
    def start(cls, record: R, actor: User) -> dict[str, Any]:
        """Return what the fields hold at first."""
        return {}

    def begin(self, record: R) -> dict[str, Any]:
        """Return the same; a form that also needs to know what it was asked for says it here."""
        return self.start(record, self.actor)

    def describe(self) -> str:
        """Return the sentence above the fields."""
        return self.intro

    def act(self) -> Any:
        """Call the service with the cleaned fields; what it returns is the record to go to, unless `goes_to` says."""
        raise TypeError(f"{type(self).__name__} says nothing of what it does.")

    def goes_to(self, result: Any) -> str:
        """Return the address that follows."""
        followed: Any = result if hasattr(result, "get_absolute_url") else self.record
        address: str = followed.get_absolute_url()
        return address

    @property
    def seen(self) -> int:
        """The version that the person read."""
        version: int = self.cleaned_data["version"]
        return version

    @property
    def proof(self) -> PasswordProof:
        """That the person gave their password; raises BadInput."""
        return confirm_password(actor=self.actor, password=self.cleaned_data["password"])

    def values(self, *names: str) -> dict[str, Any]:
        """Return cleaned fields under the names of their columns, records as keys; all but version and password."""
        wanted = names or tuple(name for name in self.cleaned_data if name not in ("version", "password"))
        return {self.columns.get(name, name): as_key(self.cleaned_data[name]) for name in wanted}

    def perform(self) -> Any:
        """Return what the service returned; None if it refused, and then the form says why."""
        if not self.is_valid():
            return None
        try:
            result = self.act()
        except EditConflict as error:
            self.status = 409
            self._merge(error)
            return None
        except NotAllowed as error:
            if not error.fields and error.code != "password_again":
                raise
            self._show(error)
            return None
        except DomainError as error:
            self.status = error.status
            self._show(error)
            return None
        return self.record if result is None else result

    def _show(self, error: DomainError) -> None:
        by_column = {column: name for name, column in self.columns.items()}
        shown = False
        for column, messages in error.fields.items():
            name = by_column.get(column, column)
            if isinstance(error, Missing) and name not in self.fields:
                continue  # it stands among the gaps, with a link
            for message in messages:
                self.add_error(name if name in self.fields else None, message)
                shown = True
        if isinstance(error, Missing):
            self.gaps = error.gaps
        if not shown or isinstance(error, Missing):
            self.add_error(None, error.message)

    def _merge(self, error: EditConflict) -> None:
        """Take over what only they changed; where both did, keep what was typed and show theirs beside it."""
        self.meanwhile = read_history_since(self.record, error.seen)
        data = self.data.copy() if isinstance(self.data, QueryDict) else MultiValueDict(self.data)
        now = self.begin(self.record.reread())
        for name, field in self.fields.items():
            column = self.columns.get(name, name)
            span = error.theirs.get(column)
            if column.endswith("_ids"):
                if name in now:  # else what is ticked belongs to this move alone, and the record has nothing to show
                    self._merge_boxes(name, field, _as_sent(field, now[name]), tuple(data.getlist(name)))
                continue
            if span is None or name in ("version", "password"):
                continue
            theirs = _as_sent(field, now.get(name))
            typed = tuple(data.getlist(name))
            if typed == theirs:
                continue
            if _same(field, typed, span["before"]):
                data.setlist(name, list(theirs))
            else:
                shown = _show_value(now.get(name))
                self.clashes.append(Clash(name, str(field.label), _show_raw(span["before"]), shown, theirs))
        data["version"] = str(error.version)
        self.data = data
        self.add_error(None, MERGE)

    def _merge_boxes(self, name: str, field: Any, theirs: tuple[str, ...], ticked: tuple[str, ...]) -> None:
        """Show what is ticked by now, where it isn't what this person ticked; the boxes keep what they ticked."""
        if set(ticked) != set(theirs):
            shown = ", ".join(str(row) for row in field.queryset.filter(pk__in=theirs)) or "nothing"
            self.clashes.append(Clash(name, str(field.label), "what was ticked on your page", shown, theirs))


def _with_choices(data: Any) -> Any:
    """Put their value in place of what was typed, in each field where the person chose so."""
    if data is None or not any(name.startswith("use_") for name in data):
        return data
    changed = data.copy()
    for name in list(data):
        if name.startswith("use_") and data[name] == "theirs":
            changed.setlist(name.removeprefix("use_"), data.getlist(name.replace("use_", "theirs_", 1)))
    return changed


def as_key(value: Any) -> Any:
    """Return records by key, as services take them."""
    if isinstance(value, Model):
        return value.pk
    if isinstance(value, QuerySet):
        return [row.pk for row in value]
    return value


def _as_sent(field: forms.Field, value: Any) -> tuple[str, ...]:
    """Return a value as the browser would send it."""
    if value is None or value is False:
        return () if isinstance(field, forms.BooleanField) else ("",)
    if value is True:
        return ("on",)
    if isinstance(value, list | tuple | QuerySet):
        return tuple(str(as_key(item)) for item in value)
    return (str(field.prepare_value(as_key(value))),)


def _same(field: forms.Field, typed: tuple[str, ...], before: Any) -> bool:
    """Tell whether what was typed is what was recorded before."""
    if isinstance(before, str) and field.__class__.__name__ == "MomentField" and before:
        before = datetime.fromisoformat(before)
    return tuple(text.replace("\r\n", "\n").strip() for text in typed) == _as_sent(field, before)


def _show_value(value: Any) -> str:
    if isinstance(value, User):
        return name_of(value)
    return _show_raw(value)


def _show_raw(value: Any) -> str:
    if value is None or value == "":
        return "nothing"
    if isinstance(value, bool):
        return "yes" if value else "no"
    return ", ".join(map(str, value)) if isinstance(value, list | tuple) else str(value)
