"""Static files whose names carry a hash of what is in them, the names inside our own scripts too.

A page that a phone has kept asks for the very files that it was made with, whatever was installed since. Scripts of
others are left as they are: what looks like an import in them need not be one.
"""

from __future__ import annotations

from django.contrib.staticfiles.storage import HashedFilesMixin, ManifestStaticFilesStorage
from whitenoise.storage import CompressedManifestStaticFilesStorage

_IMPORTS = HashedFilesMixin._js_module_import_aggregation_patterns[1]  # type: ignore[attr-defined]
_PATTERNS = (*HashedFilesMixin.patterns, ("shop/js/*.js", _IMPORTS), ("reports/*.js", _IMPORTS))


class Hashed(ManifestStaticFilesStorage):
    """For the demo: named, not compressed."""

    patterns = _PATTERNS


class HashedAndCompressed(CompressedManifestStaticFilesStorage):
    """Named and compressed once, when they are collected."""

    patterns = _PATTERNS
