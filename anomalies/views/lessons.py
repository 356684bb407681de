"""Pages of lessons: the list, and one lesson."""

from __future__ import annotations

from django.http import HttpResponse, StreamingHttpResponse
from django.shortcuts import get_object_or_404, render
from django.views.decorators.http import require_GET

from anomalies.models import Lesson
from anomalies.reads.lessons.lists import HEADER, LessonFilter, count_tabs, find_lessons, read_lesson, write_row
from config.kit.csv import write_csv
from config.kit.htmx import page_or_fragment
from config.kit.paging import paginate
from config.kit.permissions import allows, require
from config.kit.requests import PersonRequest


@require_GET
def list_lessons(request: PersonRequest) -> HttpResponse:
    """Show the lessons that the filter lets through."""
    require(request.user, "anomaly.view")
    wanted = LessonFilter.read(request.GET.dict())
    context = {
        "page": paginate(request, find_lessons(request.user, wanted)),
        "wanted": wanted,
        "tabs": count_tabs(request.user),
        "may_add": allows(request.user, "lesson.add"),
    }
    return page_or_fragment(request, "anomalies/lessons/list.html", "anomalies/lessons/_table.html", context)


@require_GET
def export_lessons(request: PersonRequest) -> StreamingHttpResponse:
    """Hand out every row of the filter."""
    require(request.user, "anomaly.view")
    rows = find_lessons(request.user, LessonFilter.read(request.GET.dict()))
    return write_csv("lessons", HEADER, map(write_row, rows.iterator(500)))


@require_GET
def show_lesson(request: PersonRequest, number: str) -> HttpResponse:
    """Show one lesson: what it says, where it applies, what was decided, what was changed for it."""
    rows = Lesson.objects.visible_to(request.user).select_related("anomaly", "activity", "author", "issued_by")
    lesson = get_object_or_404(rows, number=number)
    return render(request, "anomalies/lessons/page.html", {"lesson": lesson, "view": read_lesson(lesson)})
