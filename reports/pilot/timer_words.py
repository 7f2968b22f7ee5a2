"""What the timer's script says, by its English, so that the page can hand it over in the reader's language."""

from __future__ import annotations

from django.utils.translation import gettext
from django.utils.translation import gettext_noop as _

SAID = (
    _("This browser keeps nothing: after a reload the timer begins again."),
    _("{count} seconds"),
    _(
        "The phone slept, or its clock was set forward meanwhile: {length}. The time shown goes by the phone's clock; "
        "compare it with a watch."
    ),
    _("The phone's clock was set forward by {length}. The timer was not moved by it."),
    _("The phone's clock was set back by {length}. The timer was not moved by it."),
    _("The table is over"),
    _("Set now"),
    _("Paused at"),
    _("At level-off, tap Start and set"),
    _("Done"),
    _("Go on by the POH/AFM."),
    _("Then {next}"),
    _("Then the table ends"),
    _("Paused."),
    _("Going on."),
    _(
        "The phone's clock was set back by {length} or more while this page was closed. Compare the time shown with a "
        "watch."
    ),
    _("The timer goes on by the minutes it was started with. Back to start takes those of the table below."),
    _("The timer went on while the page was closed."),
    _("Sound: this browser has none. Watch the screen."),
    _("Sound is on. A headset or the engine may cover it: watch the screen as well."),
    _("Sound is off until you tap Start, Go on or Sound check."),
    _("Set the phone so that its screen stays on."),
    _("This browser cannot keep the screen on."),
    _("The screen is kept on."),
    _("The screen could not be kept on."),
    _("The screen is kept on while the timer runs."),
    _("1 hour"),
    _("{count} hours"),
    _("1 minute"),
    _("{count} minutes"),
    _("less than a minute"),
    _("The minutes of the table are over."),
    _("Now: {set}, for {length}."),
    _("In {time}: the table ends."),
    _("In {time}: {next}. Change the power slowly."),
)


def timer_words() -> dict[str, str]:
    """English sentence -> the sentence in the language of the page; gaps stand in braces."""
    return {english: gettext(english) for english in SAID}
