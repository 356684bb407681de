"""Reports in the JSON API: the brief of an activity, and the investigation of an anomaly on paper."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse
from drf_spectacular.utils import OpenApiParameter, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from anomalies.api.activities import find as find_activity
from anomalies.api.doors import find_anomaly
from anomalies.reads.brief.build import read_brief
from anomalies.reads.brief.paper import print_brief
from anomalies.reads.card_sheets import PAPERS
from anomalies.reads.investigation_report import print_anomaly
from config.kit.api_files import PDF, FileView
from config.kit.downloads import name_file, send_download
from config.kit.permissions import require

PAPER = [OpenApiParameter("paper", str, enum=list(PAPERS), description="Size of the paper, a4 where left out.")]


class BriefSourceOut(serializers.Serializer[Any]):
    """A record that a sentence comes from."""

    kind = serializers.CharField()
    key = serializers.IntegerField()
    label = serializers.CharField()  # type: ignore[assignment]  # a field of this name, not the label of one


class BriefSentenceOut(serializers.Serializer[Any]):
    """A sentence with its records; a `quiet` one stands in the fuller brief alone."""

    text = serializers.CharField()
    sources = BriefSourceOut(many=True)
    quiet = serializers.BooleanField()


class BriefInnerPartOut(serializers.Serializer[Any]):
    """Sentences under a heading of the lowest level."""

    head = serializers.CharField()
    sentences = BriefSentenceOut(many=True)


class BriefMiddlePartOut(BriefInnerPartOut):
    """Sentences under a heading within a part, as those of one anomaly."""

    within = BriefInnerPartOut(many=True)


class BriefPartOut(BriefInnerPartOut):
    """Sentences under a heading of the brief."""

    within = BriefMiddlePartOut(many=True)


class BriefQuestionOut(serializers.Serializer[Any]):
    """What an outsider would ask; without answers, no record answers it."""

    text = serializers.CharField()
    answers = BriefSentenceOut(many=True)


class BriefActivityOut(serializers.Serializer[Any]):
    """What the brief is of."""

    key = serializers.IntegerField()
    title = serializers.CharField()


class BriefOut(serializers.Serializer[Any]):
    """The brief as the records have it at the moment named."""

    format = serializers.CharField()
    activity = BriefActivityOut()
    at = serializers.DateTimeField()
    verdict = BriefSentenceOut()
    parts = BriefPartOut(many=True)
    questions = BriefQuestionOut(many=True)
    caution = serializers.CharField()


class BriefView(APIView):
    """The brief of an activity."""

    @extend_schema(tags=["activities"], responses=BriefOut)
    def get(self, request: Request, activity_id: int) -> Response:
        """Say what has changed since last time, each sentence with the records that it comes from."""
        activity = find_activity(request, activity_id)
        require(request.user, "readiness_review.view")
        return Response(BriefOut(read_brief(activity).as_json()).data)


class BriefPdfView(FileView):
    """The brief of an activity on paper."""

    @extend_schema(tags=["activities"], parameters=PAPER, responses=PDF)
    def get(self, request: Request, activity_id: int) -> HttpResponse:
        """Hand it out; 503 where the machine can't make PDF."""
        activity = find_activity(request, activity_id)
        require(request.user, "readiness_review.view")
        content = print_brief(read_brief(activity), paper=str(request.query_params.get("paper", "a4")))
        name = f"brief-{name_file(activity.title, 'activity')}.pdf"
        return send_download(content, name=name, media_type="application/pdf")


class AnomalyReportView(FileView):
    """The investigation of an anomaly on paper."""

    @extend_schema(tags=["anomalies"], parameters=PAPER, responses=PDF)
    def get(self, request: Request, number: str) -> HttpResponse:
        """Hand out what the records hold of it: story, evidence, findings, causes, tree, actions, signatures."""
        anomaly = find_anomaly(request, number)
        content = print_anomaly(anomaly, paper=str(request.query_params.get("paper", "a4")))
        return send_download(content, name=f"report-{number}.pdf", media_type="application/pdf")
