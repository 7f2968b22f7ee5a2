"""The one refusal of a recording: what is wrong, where, and how to mend it."""


class Unreadable(Exception):
    """A file, or a mapping, that cannot be read.

    what : str - what is wrong, without a full stop.
    row : int or None - line of the file, counted from 1.
    column : str or None - name of the column.
    mend : str - what the person can do, a whole sentence.

    >>> str(Unreadable("no column holds the time", mend="Name the column of the time.", row=3))
    'Line 3: no column holds the time. Name the column of the time.'
    """

    def __init__(self, what: str, *, mend: str, row: int | None = None, column: str | None = None) -> None:
        self.what, self.row, self.column, self.mend = what, row, column, mend
        super().__init__(str(self))

    def __str__(self) -> str:
        places = []
        if self.row is not None:
            places.append(f"line {self.row:,}")
        if self.column is not None:
            places.append(f"column “{self.column[:60]}”")
        where = ", ".join(places)
        text = f"{where}: {self.what}" if where else self.what
        return f"{text[:1].upper()}{text[1:]}. {self.mend}"

    def __reduce__(self) -> tuple[object, ...]:
        return _again, (self.what, self.row, self.column, self.mend)


def _again(what: str, row: int | None, column: str | None, mend: str) -> Unreadable:
    return Unreadable(what, row=row, column=column, mend=mend)
