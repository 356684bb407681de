"""A table of past anomalies, pasted or as a file."""

from __future__ import annotations

from hashlib import sha256
from typing import Any

from django import forms
from django.contrib.auth.models import User

from anomalies.past_table import MOST_CHARACTERS
from anomalies.reads.past_anomalies import ImportPlan, plan_import
from anomalies.services.past_anomalies import Imported, import_anomalies
from config.kit.errors import BadInput

NOT_UTF8 = "This file isn't UTF-8 text. Save it from the spreadsheet as “CSV UTF-8”."
NO_TABLE = "Paste a table, or choose a file."
CHANGED = "The table changed since it was checked: here is what will happen now. Nothing was imported yet."
TOO_LONG = f"More than {MOST_CHARACTERS:,} characters: split the table."


class PastTableForm(forms.Form):
    """Checks a table, and imports what was checked; the text is part of the page, so that nothing is lost."""

    table = forms.CharField(
        label="Table",
        required=False,
        max_length=MOST_CHARACTERS,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "wrap": "off"}),
        help_text="Comma, semicolon or tab between the columns; the first line names them, in any order.",
    )
    file = forms.FileField(
        label="Or a file",
        required=False,
        allow_empty_file=True,
        help_text="CSV in UTF-8. It takes the place of what is pasted.",
        widget=forms.ClearableFileInput(attrs={"accept": ".csv,.tsv,.txt,text/csv"}),
    )
    checked = forms.CharField(required=False, max_length=64, widget=forms.HiddenInput)

    text = ""

    def clean(self) -> dict[str, Any]:
        """Take the file for the table if there's one; `text` holds it, also when the form has faults."""
        data = self.cleaned_data
        self.text = data.get("table") or str(self.data.get("table", ""))
        file = data.get("file")
        if file is not None:
            if file.size > 4 * MOST_CHARACTERS:
                raise forms.ValidationError({"file": TOO_LONG})
            try:
                self.text = file.read().decode("utf-8-sig").replace("\0", "")
            except UnicodeDecodeError:
                raise forms.ValidationError({"file": NOT_UTF8}) from None
        if not self.text.strip() and not self.errors:
            raise forms.ValidationError({"table": NO_TABLE})
        return data

    @property
    def digest(self) -> str:
        """The SHA-256 of the table, whatever ends its lines."""
        return sha256("\n".join(self.text.splitlines()).encode()).hexdigest()

    def plan(self, actor: User) -> ImportPlan | None:
        """Return what the table would do; None, with an error on the field, where it isn't one."""
        try:
            return plan_import(actor, self.text)
        except BadInput as error:
            self.add_error("table", error.fields.get("table", [error.message]))
            return None

    def confirm(self, actor: User) -> Imported | None:
        """Import what was checked; None, with an error on the field, where it can't be."""
        if self.digest != self.cleaned_data["checked"]:
            self.add_error("table", CHANGED)
            return None
        try:
            return import_anomalies(actor=actor, table=self.text)
        except BadInput as error:
            self.add_error("table", error.message)
            return None
