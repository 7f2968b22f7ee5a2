"""Refusals of the calculations. Each says what is wrong, where, and how to mend it.

All are ``ValueError``, so a form may catch one kind and show the text as it stands.
"""


class CalcError(ValueError):
    """A calculation refuses its input.

    Parameters
    ----------
    what : str - what is wrong, with the value, as a sentence.
    where : str - the field or quantity, in the trade's words; empty when the sentence already says so.
    mend : str - what to do about it.

    Example
    -------
    >>> str(CalcError("75 is below 500.", where="rpm", mend="Type the tachometer reading."))
    'rpm: 75 is below 500. Type the tachometer reading.'
    """

    def __init__(self, what: str, *, where: str = "", mend: str = "") -> None:
        self.what = what
        self.where = where
        self.mend = mend
        head = f"{where}: {what}" if where else what
        super().__init__(f"{head} {mend}" if mend else head)


class BadQuantity(CalcError):
    """The text or value is not a quantity of this kind: unreadable, ambiguous, not finite, unknown unit."""


class OutOfRange(CalcError):
    """The value is a number, but outside the range in which the calculation holds."""


class MissingData(CalcError):
    """Something that the calculation needs was not observed."""


class BadChart(CalcError):
    """A power chart is incomplete or contradicts itself."""


class BadLog(CalcError):
    """An oil log cannot be read as one: an unknown entry, hours running backwards, a missing field."""
