"""How people get an account and sign in."""

from allauth.account.adapter import DefaultAccountAdapter
from django.http import HttpRequest


class Adapter(DefaultAccountAdapter):
    """Sign-up is closed: the shop invites."""

    def is_open_for_signup(self, request: HttpRequest) -> bool:
        return False
