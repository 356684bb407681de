"""What a brief is made of: sentences, each with the records that it comes from."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any

from anomalies.models.base import Record
from anomalies.reads.readiness.item import Item
from config.kit.canonical import as_plain

FORMAT = "siftwood brief 1"
CAUTION = (
    "Decision support. This brief says what the records say, as of the moment named; what nobody recorded isn't in it. "
    "Its numbers rest on the models and assumptions named beside them. The programme's safety authority and licensed "
    "practice decide."
)
WORDS_A_MINUTE = 140
"""Words that are read aloud in a minute: common practice, no source."""
NO_ANSWER = "No record answers this."


@dataclass(frozen=True, slots=True)
class Source:
    """A record that a sentence comes from: its kind and key lead to it, the label is what it's called."""

    kind: str
    key: int
    label: str


@dataclass(frozen=True, slots=True)
class Sentence:
    """Something that is said, whole, and the records that say it. `quiet`: only the fuller brief says it."""

    text: str
    sources: tuple[Source, ...]
    quiet: bool = False


@dataclass(frozen=True, slots=True)
class Part:
    """Sentences under one heading; `within` are parts below it."""

    head: str
    sentences: tuple[Sentence, ...]
    within: tuple[Part, ...] = ()

    @property
    def spoken(self) -> Part:
        """The same without what only the fuller brief says."""
        within = (part.spoken for part in self.within)
        kept = tuple(part for part in within if not part.is_empty)
        return Part(self.head, tuple(row for row in self.sentences if not row.quiet), kept)

    @property
    def words(self) -> int:
        """How many words it has, headings too."""
        said = sum(len(row.text.split()) for row in self.sentences) + len(self.head.split())
        return said + sum(part.words for part in self.within)

    @property
    def is_empty(self) -> bool:
        """Nothing is said in it."""
        return not self.sentences and all(part.is_empty for part in self.within)


@dataclass(frozen=True, slots=True)
class Question:
    """What an outsider would ask; `answers` is empty where no record answers it."""

    text: str
    answers: tuple[Sentence, ...]


@dataclass(frozen=True, slots=True)
class Brief:
    """All of it, at one moment; `verdict` is what the readiness review says, in words."""

    activity: str
    activity_key: int
    at: datetime
    verdict: Sentence
    parts: tuple[Part, ...]
    questions: tuple[Question, ...]
    caution: str = CAUTION

    @property
    def spoken(self) -> Brief:
        """The same without what only the fuller brief says; headings under which nothing is left are gone."""
        parts = (part.spoken for part in self.parts)
        return replace(self, parts=tuple(part for part in parts if not part.is_empty))

    @property
    def minutes(self) -> int:
        """How long its parts take to be read aloud, at WORDS_A_MINUTE; the questions are for after that."""
        words = len(self.verdict.text.split()) + sum(part.words for part in self.parts)
        return max(round(words / WORDS_A_MINUTE), 1)

    def as_json(self) -> dict[str, Any]:
        """Return it as JSON can hold it."""
        document: dict[str, Any] = as_plain(
            {
                "format": FORMAT,
                "activity": {"key": self.activity_key, "title": self.activity},
                "at": self.at,
                "verdict": _write_sentence(self.verdict),
                "parts": [_write_part(part) for part in self.parts],
                "questions": [
                    {"text": each.text, "answers": [_write_sentence(row) for row in each.answers]}
                    for each in self.questions
                ],
                "caution": self.caution,
            }
        )
        return document


def say(text: str, *records: Record, quiet: bool = False) -> Sentence:
    """Return a sentence that comes from these records; one without any can't be said."""
    if not records:
        raise ValueError(f"no record says: {text}")
    sources = tuple(Source(record.KIND, record.pk, str(record)) for record in records)
    return Sentence(" ".join(text.split()), sources, quiet)


def end_sentence(text: str) -> str:
    """Return the text with one mark at its end."""
    text = " ".join(text.split())
    return text if not text or text[-1] in ".!?:" else f"{text}."


def say_item(item: Item) -> Sentence:
    """Return what the list says of an item, and who owes what is missing."""
    owed = f" Owed by {item.owed_by}." if item.is_open and item.owed_by else ""
    return say(f"{end_sentence(item.title)} {item.because}{owed}", item.record)


def _write_part(part: Part) -> dict[str, Any]:
    return {
        "head": part.head,
        "sentences": [_write_sentence(row) for row in part.sentences],
        "within": [_write_part(each) for each in part.within],
    }


def _write_sentence(row: Sentence) -> dict[str, Any]:
    sources = [{"kind": each.kind, "key": each.key, "label": each.label} for each in row.sources]
    return {"text": row.text, "sources": sources, "quiet": row.quiet}
