"""Refusals: what is wrong, in which field, and how to mend it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Literal

Code = Literal["invalid", "conflict", "forbidden", "confirm"]


@dataclass(frozen=True)
class Problem:
    """One thing that is wrong, or that the sender is asked to confirm.

    field : dotted path of what was typed, "oil.0.level"; empty when it is about the whole entry.
    message : what, with the value, and how to mend it.
    """

    field: str
    message: str

    def under(self, prefix: str) -> Problem:
        """The same problem seen from one level up."""
        return Problem(f"{prefix}.{self.field}" if self.field else prefix, self.message)


class Refusal(Exception):
    """A service or a parser does not take an entry. Nothing was saved.

    problems : every problem that was found, not only the first.
    code : "invalid" (mend what was typed), "conflict" (somebody or something was there before), "forbidden", "confirm"
        (nothing is wrong for sure, but the sender is asked whether an unusual value is right).
    """

    def __init__(self, problems: Iterable[Problem] | Problem, code: Code = "invalid") -> None:
        self.problems: tuple[Problem, ...] = (problems,) if isinstance(problems, Problem) else tuple(problems)
        self.code: Code = code
        super().__init__(" ".join(problem.message for problem in self.problems))

    @classmethod
    def of(cls, field: str, message: str, code: Code = "invalid") -> Refusal:
        return cls(Problem(field, message), code)

    def by_field(self) -> dict[str, list[str]]:
        """Field: messages, in the order found."""
        found: dict[str, list[str]] = {}
        for problem in self.problems:
            found.setdefault(problem.field, []).append(problem.message)
        return found


class ConflictingResend(Refusal):
    """The same client_id came again with other content. `what` : in a sentence, what came and that the first stands."""

    def __init__(self, what: str) -> None:
        super().__init__(Problem("client_id", what), "conflict")
