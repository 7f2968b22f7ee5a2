"""A network between browser and server that can be cut."""

from __future__ import annotations

import contextlib
import socket
import threading

_SORRY = b"<h1>Bad gateway</h1>"
BAD_GATEWAY = (
    b"HTTP/1.1 502 Bad Gateway\r\nContent-Type: text/html\r\nConnection: close\r\nContent-Length: %d\r\n\r\n"
    % len(_SORRY)
) + _SORRY


class Line:
    """Listens on a port of its own and forwards to the server. Cut, it refuses; `lose_answers` delivers and is mute;
    `break_posts` delivers none and answers as a gateway does whose server is down, `broken` counts them.
    `posts` : requests that would change something."""

    def __init__(self, host: str, port: int) -> None:
        self.server = (host, port)
        self.lose_answers = self.break_posts = False
        self.posts = self.broken = 0
        self.answered_bytes = 0
        self._open: set[socket.socket] = set()
        self._listener: socket.socket | None = None
        self.port = 0
        self.mend()

    def mend(self) -> None:
        listener = socket.socket()
        listener.setsockopt(socket.SOL_SOCKET, socket.SO_REUSEADDR, 1)
        listener.bind(("127.0.0.1", self.port))
        listener.listen(64)
        self.port, self._listener = listener.getsockname()[1], listener
        threading.Thread(target=self._accept, args=(listener,), daemon=True).start()

    def cut(self) -> None:
        listener, self._listener = self._listener, None
        for each in [listener, *self._open]:
            if each is not None:
                with contextlib.suppress(OSError):
                    each.shutdown(socket.SHUT_RDWR)
                each.close()
        self._open.clear()

    def _accept(self, listener: socket.socket) -> None:
        while True:
            try:
                browser, _ = listener.accept()
                server = socket.create_connection(self.server)
            except OSError:
                return
            self._open |= {browser, server}
            threading.Thread(target=self._forward, args=(browser, server, False), daemon=True).start()
            threading.Thread(target=self._forward, args=(server, browser, True), daemon=True).start()

    def _forward(self, source: socket.socket, target: socket.socket, answers: bool) -> None:
        with contextlib.suppress(OSError):
            while data := source.recv(65536):
                if answers and self.lose_answers:
                    break
                is_post = not answers and data.startswith(b"POST ")
                self.posts += is_post
                if is_post and self.break_posts:
                    source.sendall(BAD_GATEWAY)
                    self.broken += 1
                    break
                self.answered_bytes += len(data) if answers else 0
                target.sendall(data)
        for each in (source, target):
            with contextlib.suppress(OSError):
                each.shutdown(socket.SHUT_RDWR)
            each.close()
            self._open.discard(each)
