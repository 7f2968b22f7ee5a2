"""The order of authority that stands on every page, card, mail and file, in one place.

Common practice in the trade, no published source: the maker's current word outranks everything that a shop or a
program writes down. Where it is shown it is translated.
"""

from django.utils.translation import gettext_noop as _

ORDER_OF_AUTHORITY = _(
    "Engine maker's current instructions come first, then the cylinder or overhaul instructions, the POH/AFM and "
    "placards, the shop's plan, and only then this software."
)
WHAT_THIS_SAYS = _("It says whether break-in criteria are met, not met or not known. It is not a maintenance release.")
