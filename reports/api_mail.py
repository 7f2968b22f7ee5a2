"""The door for a mail server, or whoever reads its mailbox: this mail came back."""

from __future__ import annotations

from typing import Any

from django.http import Http404
from django.utils import timezone
from drf_spectacular.utils import extend_schema
from rest_framework import serializers
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from breakin.models import Message
from breakin.notices import mark_bounced
from shop import access
from shop.errors import Refusal


class Bounced(serializers.Serializer[Any]):
    """Which mail came back, by the Message-ID of its header, and what the answer said."""

    message_id = serializers.CharField(max_length=200)
    why = serializers.CharField(max_length=1000, required=False, allow_blank=True, default="")


class BouncedReceived(serializers.Serializer[Any]):
    message_id = serializers.CharField()
    recipient = serializers.CharField()
    bounced_at = serializers.DateTimeField()


class BouncedView(APIView):
    """Say that a mail came back: its address is not written to any more, the phone is used. Harmless twice."""

    @extend_schema(request=Bounced, responses=BouncedReceived, operation_id="mark_bounced")
    def post(self, request: Request) -> Response:
        access.require(request.user, "settle_mail")
        by = access.person_of(request.user)
        if by is None:
            raise Refusal.of("", "This login belongs to nobody yet. Enter it under People first.", "forbidden")
        typed = Bounced(data=request.data)
        typed.is_valid(raise_exception=True)
        wanted = typed.validated_data["message_id"].strip().strip("<>")
        message = Message.objects.filter(message_id__in=[wanted, f"<{wanted}>"]).first()
        if message is None:
            raise Http404
        message = mark_bounced(by=by, message=message, why=typed.validated_data["why"], now=timezone.now())
        answer = {
            "message_id": message.message_id, "recipient": message.recipient.name, "bounced_at": message.bounced_at,
        }  # fmt: skip
        return Response(BouncedReceived(answer).data)
