"""Sealed close-out files over the programming interface: the list of an engine's, and a document byte for byte."""

from __future__ import annotations

from typing import Any, cast

from django.http import FileResponse
from django.shortcuts import get_object_or_404
from drf_spectacular.types import OpenApiTypes
from drf_spectacular.utils import OpenApiResponse, extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from engines.models import Engine
from reports.closeout.files import described, files_of
from reports.reader import reader_of
from reports.views.close_out_files import sealed_bytes
from shop import access
from shop.models import User


class CloseOutRow(serializers.Serializer[Any]):
    """A sealed file. Its document is fetched by its id; the SHA-256 is that of the bytes then sent."""

    id = serializers.IntegerField()
    build = serializers.CharField()
    number = serializers.IntegerField()
    signed_at = serializers.DateTimeField()
    signed_by = serializers.CharField()
    proposed_by = serializers.CharField()
    reservations = serializers.ListField(child=serializers.CharField())
    document_sha256 = serializers.CharField()
    print_sha256 = serializers.CharField()
    rules_version = serializers.CharField()
    software_version = serializers.CharField()


class CloseOutsView(APIView):
    """The sealed close-out files of one engine, the newest first."""

    @extend_schema(responses=CloseOutRow(many=True), operation_id="close_outs")
    def get(self, request: Request, engine_id: int) -> Response:
        engine = get_object_or_404(access.visible_to(request.user, Engine.objects.all()), pk=engine_id)
        rows = files_of(reader_of(cast(User, request.user))).filter(build__engine=engine)
        return Response(CloseOutRow([described(row) for row in rows], many=True).data)


class CloseOutDocumentView(APIView):
    """The document of a sealed file, byte for byte as it was sealed."""

    @extend_schema(
        responses={200: OpenApiResponse(OpenApiTypes.OBJECT, "the sealed document")}, operation_id="close_out_document"
    )
    def get(self, request: Request, file_id: int) -> FileResponse:
        return sealed_bytes(get_object_or_404(files_of(reader_of(cast(User, request.user))), pk=file_id), "document")
