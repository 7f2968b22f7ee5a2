"""Who gets through the door of the programming interface.

Apart from `shop.api` because the framework's views load these classes while they are being imported themselves.
"""

from __future__ import annotations

from typing import TYPE_CHECKING

from django.utils import timezone
from rest_framework.authentication import BaseAuthentication, get_authorization_header
from rest_framework.exceptions import AuthenticationFailed
from rest_framework.permissions import BasePermission
from rest_framework.request import Request

from shop import second_factor
from shop.models import ApiToken, TokenScope, User
from shop.services import token_for

if TYPE_CHECKING:
    from rest_framework.views import APIView


class TokenAuthentication(BaseAuthentication):
    """`Authorization: Bearer TOKEN`: a person's own token, of which only the SHA-256 is kept."""

    keyword = "Bearer"

    def authenticate(self, request: Request) -> tuple[User, ApiToken] | None:
        parts = get_authorization_header(request).decode("latin-1").split()
        if not parts or parts[0].lower() != self.keyword.lower():
            return None
        if len(parts) != 2:
            raise AuthenticationFailed("Write the header as “Authorization: Bearer TOKEN”.")
        token = token_for(parts[1], timezone.now())
        if token is None:
            raise AuthenticationFailed("This token is unknown, revoked or expired. Make a new one on the site.")
        if token.scope == TokenScope.CALENDAR:
            raise AuthenticationFailed("This is the secret of a calendar and opens nothing else. Make a token.")
        return token.user, token

    def authenticate_header(self, request: Request) -> str:
        return self.keyword


class SecondFactorSet(BasePermission):
    """Who works for the shop has set up a second factor, with a token as much as with a session."""

    message = "Who works for the shop signs in with a second factor. Set one up on the site first."

    def has_permission(self, request: Request, view: APIView) -> bool:
        return not second_factor.is_missing(request.user)


class ScopeAllows(BasePermission):
    """A read token reads."""

    message = "This token may only read. Make one with the scope “read and write”."

    def has_permission(self, request: Request, view: APIView) -> bool:
        token = request.auth
        reads = request.method in ("GET", "HEAD", "OPTIONS")
        return reads or not isinstance(token, ApiToken) or token.scope == TokenScope.WRITE
