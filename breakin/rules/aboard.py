"""P10: who was aboard the first flight after the work."""

from __future__ import annotations

from collections.abc import Iterator

from breakin.calc.said import fixed, said
from breakin.picture.picture import Picture
from breakin.rules.base import CALL, Answer, Hit, answer, flight_evidence, rule

# A pilot and whoever checks or teaches. Own choice; the rule knows of crew members only.
CREW = 2
LOCAL_RULES = (
    "Local rules; in the United States 14 CFR 91.407(b), (c): crew members only until a pilot has flown and logged an "
    "operational check, unless ground tests cover it"
)


@rule(
    "P10",
    version=1,
    needs=("persons aboard",),
    severity="call",
    title=said("Passengers on the first flight"),
    text="The first flight after the work is flown by the crew only: with more than two people aboard, somebody calls. "
    "Whether that was allowed, the signatory says; the shop wants no second surprise of this kind.",
)
def passengers_on_the_first_flight(picture: Picture) -> Answer:
    return answer(_first_flight(picture), "The first flight was flown by the crew only.")


def _first_flight(picture: Picture) -> Iterator[Hit]:
    run = picture.clock.flights[0].run
    if run.persons_aboard is None or run.persons_aboard <= CREW:
        return
    text = said(
        "{persons} people were aboard the first flight after the work. Call: the first flight is for the crew only, "
        "unless the signatory found that ground tests cover it.",
        persons=fixed(run.persons_aboard, 0),
    )
    evidence = (flight_evidence(run.root, f"{run.persons_aboard} persons aboard"),)
    yield Hit(str(run.root), CALL, text, LOCAL_RULES, run.at, {"persons_aboard": run.persons_aboard}, evidence)
