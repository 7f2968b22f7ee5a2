"""Keep an upload from filling the disk."""

from typing import Any

from django.conf import settings
from django.core.files.uploadhandler import StopUpload, TemporaryFileUploadHandler


class LimitedUploadHandler(TemporaryFileUploadHandler):
    """Stream a file to disk, and stop where one request has sent more than settings.MAX_UPLOAD_BYTES of files.

    The request then carries `upload_over_limit` (the limit in bytes) and no file, so that the view can say so.
    """

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self._received = 0

    def receive_data_chunk(self, raw_data: bytes, start: int) -> None:
        self._received += len(raw_data)
        if self._received > settings.MAX_UPLOAD_BYTES:
            if self.request is not None:
                self.request.upload_over_limit = settings.MAX_UPLOAD_BYTES  # type: ignore[attr-defined]
            # The rest of the body is read and dropped; a closed connection would hide the message from the sender.
            raise StopUpload(connection_reset=False)
        super().receive_data_chunk(raw_data, start)
