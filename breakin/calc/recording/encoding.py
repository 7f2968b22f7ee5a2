"""From the bytes of a file to the lines of a text: its encoding, and what is no text at all."""

from __future__ import annotations

from breakin.calc.recording.unreadable import Unreadable

HEAD_BYTES = 262_144
LAYOUT_BYTES = 65_536

_MAGIC = (
    (b"PK\x03\x04", "a ZIP archive or a spreadsheet"), (b"\x1f\x8b", "a gzip archive"), (b"\x89PNG", "a picture"),
    (b"\xff\xd8\xff", "a picture"), (b"GIF8", "a picture"), (b"%PDF", "a PDF"), (b"PAR1", "a Parquet file"),
    (b"SQLite format 3", "a database"), (b"Rar!", "a RAR archive"), (b"7z\xbc\xaf", "a 7z archive"),
    (b"\xd0\xcf\x11\xe0", "an old spreadsheet"), (b"{\\rtf", "a word processor's document"), (b"\x7fELF", "a program"),
)  # fmt: skip
_CONTROLS = bytes((*range(1, 9), *range(14, 27), *range(28, 32)))
_AS_TEXT = "Save or export the recording as text with separated columns (CSV) and upload that."


def decoded(data: bytes, encoding: str) -> bytes:
    """Bytes of the file as UTF-8 with single line feeds, without a byte-order mark and without NUL bytes."""
    if encoding != "utf-8":
        data = data.decode(encoding, "replace").encode()
    data = data.removeprefix(b"\xef\xbb\xbf")
    if b"\0" in data:
        data = data.replace(b"\0", b"")
    if b"\r" in data:
        data = data.replace(b"\r\n", b"\n").replace(b"\r", b"\n")
    return data


def encoding_of(head: bytes) -> str:
    """The encoding of a text, from its first bytes.

    Raises
    ------
    Unreadable : not a text.

    >>> encoding_of("Time,rpm".encode("utf-16"))
    'utf-16-le'
    """
    for magic, kind in _MAGIC:
        if head.startswith(magic):
            raise Unreadable(f"the file is {kind}, not a text", mend=_AS_TEXT)
    if not head.strip(b"\0 \t\r\n\xef\xbb\xbf\xff\xfe"):
        raise Unreadable("the file is empty", mend="Download it from the instrument again.")
    for mark, name in ((b"\xff\xfe", "utf-16-le"), (b"\xfe\xff", "utf-16-be")):
        if head.startswith(mark):
            return name
    even, odd = head[0:4096:2], head[1:4096:2]
    if odd.count(0) > 0.4 * len(odd) and even.count(0) < 0.1 * len(even):
        return "utf-16-le"
    if even.count(0) > 0.4 * len(even) and odd.count(0) < 0.1 * len(odd):
        return "utf-16-be"
    text = head.replace(b"\0", b"")
    if len(text) - len(text.translate(None, _CONTROLS)) > 0.01 * len(text):
        raise Unreadable("the file holds binary data, not a text", mend=_AS_TEXT)
    start = text[:512].lstrip(b"\xef\xbb\xbf \t\r\n").lower()
    if start.startswith((b"<!doctype", b"<html", b"<?xml", b"<svg")):
        raise Unreadable("the file is a web page or XML, not separated columns", mend=_AS_TEXT)
    try:
        text[: max(len(text) - 4, 0)].decode("utf-8")
    except UnicodeDecodeError as error:
        if error.start < len(text) - 8:
            return (
                "cp1252"
                if not any(code in text for code in (b"\x81", b"\x8d", b"\x8f", b"\x90", b"\x9d"))
                else "latin-1"
            )
    return "utf-8"


def lines_of(head: bytes, encoding: str) -> list[str]:
    """The lines of the first bytes; the last, which may be cut, only when it is the only one or ends."""
    if encoding.startswith("utf-16"):
        head = head.removeprefix(b"\xff\xfe").removeprefix(b"\xfe\xff")
        head = head[: len(head) // 2 * 2]
    text = decoded(head, encoding).decode("utf-8", "replace")
    lines = text.split("\n")
    return lines[:-1] if len(lines) > 1 and (not lines[-1] or len(head) >= LAYOUT_BYTES - 4) else lines
