"""The programming interface: the shape of errors, what its schema says of every address, and who is asking."""

from __future__ import annotations

import math
from typing import Any

from django.core.exceptions import PermissionDenied
from drf_spectacular.extensions import OpenApiAuthenticationExtension
from drf_spectacular.openapi import AutoSchema
from drf_spectacular.utils import Direction, OpenApiResponse, extend_schema
from rest_framework import serializers, status
from rest_framework.exceptions import APIException, NotFound, Throttled, ValidationError
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView, exception_handler

from shop import access
from shop.errors import Refusal
from shop.models import ApiToken, TokenScope, User

_STATUS = {
    "invalid": status.HTTP_400_BAD_REQUEST,
    "conflict": status.HTTP_409_CONFLICT,
    "forbidden": status.HTTP_403_FORBIDDEN,
    "confirm": status.HTTP_400_BAD_REQUEST,
}
_CODES = {
    400: "invalid",
    401: "unauthenticated",
    403: "forbidden",
    404: "not_found",
    405: "method",
    406: "format",
    415: "format",
    429: "slow_down",
}
NOT_FOUND = "There is nothing at this address, or it is not yours to see."


class TokenScheme(OpenApiAuthenticationExtension):  # type: ignore[no-untyped-call]
    target_class = "shop.api_access.TokenAuthentication"
    name = "token"

    def get_security_definition(self, auto_schema: Any) -> dict[str, str]:
        return {"type": "http", "scheme": "bearer"}


def problems(exc: Exception, context: dict[str, Any]) -> Response | None:
    """Every error has one shape: {"code": ..., "problems": [{"field": ..., "message": ...}]}."""
    if isinstance(exc, Refusal):
        rows = [{"field": problem.field, "message": problem.message} for problem in exc.problems]
        return Response({"code": exc.code, "problems": rows}, status=_STATUS[exc.code])
    response = exception_handler(exc, context)
    if response is None:
        return None
    if isinstance(exc, ValidationError):
        rows = list(_flat(response.data, ""))
    else:
        rows = [{"field": "", "message": _words(exc, response)}]
    response.data = {"code": _CODES.get(response.status_code, "error"), "problems": rows}
    return response


def _words(exc: Exception, response: Response) -> str:
    if response.status_code == status.HTTP_404_NOT_FOUND:
        return NOT_FOUND
    if isinstance(exc, Throttled):
        return f"Too many requests in a short time. Try again in {math.ceil(getattr(exc, 'wait', None) or 60)} seconds."
    if isinstance(exc, PermissionDenied) and str(exc):
        return str(exc)
    return str(exc.detail) if isinstance(exc, APIException) else str(response.data.get("detail", ""))


def _flat(detail: Any, path: str) -> Any:
    if isinstance(detail, dict):
        for key, value in detail.items():
            name = "" if key == "non_field_errors" else str(key)
            yield from _flat(value, ".".join(part for part in (path, name) if part))
    elif isinstance(detail, list) and any(isinstance(row, dict | list) for row in detail):
        for number, value in enumerate(detail):
            yield from _flat(value, f"{path}.{number}" if path else str(number))
    else:
        for message in detail if isinstance(detail, list) else [detail]:
            yield {"field": path, "message": str(message)}


class ProblemSerializer(serializers.Serializer[Any]):
    field = serializers.CharField(allow_blank=True, help_text="dotted path of the field; empty = the whole entry")
    message = serializers.CharField(help_text="what is wrong and how to mend it")


class ProblemsSerializer(serializers.Serializer[Any]):
    code = serializers.CharField()
    problems = ProblemSerializer(many=True)


class Schema(AutoSchema):
    """Declares the errors that every address can answer with, beside its own answers."""

    def _get_response_bodies(self, direction: Direction = "response") -> Any:
        errors = {401: "not signed in", 403: "not allowed", 406: "nothing but JSON is spoken", 429: "too many requests"}
        if "{" in self.path:
            errors[404] = "not found, or not yours"
        errors[400] = "refused, with every problem; code “confirm”: asked whether an unusual value is right"
        if self.method == "POST":
            errors |= {
                404: "not found, or not yours",
                409: "sent before with other content",
                415: "in another form than this door takes",
            }
        described = {
            str(code): self._get_response_for_code(  # type: ignore[no-untyped-call]
                OpenApiResponse(ProblemsSerializer, description=words), str(code), direction=direction
            )
            for code, words in errors.items()
        }
        return {**described, **super()._get_response_bodies(direction)}


class NowhereView(APIView):
    """Every other address under the interface, so that a mistyped one is answered in its shape too."""

    schema = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        super().initial(request, *args, **kwargs)
        raise NotFound


class PersonSerializer(serializers.Serializer[Any]):
    id = serializers.IntegerField()
    name = serializers.CharField()
    email = serializers.EmailField(allow_blank=True)
    units = serializers.CharField()
    zone = serializers.CharField()
    language = serializers.CharField()


class MeSerializer(serializers.Serializer[Any]):
    user_id = serializers.IntegerField()
    email = serializers.EmailField()
    roles = serializers.ListField(child=serializers.CharField(), help_text="roles in the shop today")
    scope = serializers.CharField(help_text="read or write")
    person = PersonSerializer(allow_null=True)


class MeView(APIView):
    """Who is asking."""

    @extend_schema(responses=MeSerializer, operation_id="me")
    def get(self, request: Request) -> Response:
        user = request.user
        assert isinstance(user, User)  # noqa: S101  # the permission class lets nobody else through
        token = request.auth
        answer = {
            "user_id": user.pk,
            "email": user.email,
            "roles": sorted(access.staff_roles(user)),
            "scope": token.scope if isinstance(token, ApiToken) else TokenScope.WRITE,
            "person": access.person_of(user),
        }
        return Response(MeSerializer(answer).data)
