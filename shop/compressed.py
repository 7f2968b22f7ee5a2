"""Pages go compressed to a phone with one bar. What programs fetch is short, and left as it is."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponseBase
from django.middleware.gzip import GZipMiddleware


class CompressedPages(GZipMiddleware):
    """For HTML only; the length is varied against guessing from outside what a page holds."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        page = response.headers.get("Content-Type", "").startswith("text/html")
        return super().process_response(request, response) if page else response
