"""Who is told what, once, and the sending of it.

planning  open findings and due items -> notice rows, one for each person, level and channel
people    who is concerned by an aircraft now
quiet     the quiet hours of a person
claiming  waiting notices -> one message an aircraft a day; the lease on a message; is it still due?
sending   a claimed message -> the mail server, outside any transaction
words     what the mail says
returned  mail that came back, and what a restore holds
"""

from breakin.notices.planning import Planned, mark_answered, plan, plan_fresh
from breakin.notices.returned import mark_bounced, settle_held
from breakin.notices.sending import Sent, send_due

__all__ = ["Planned", "Sent", "mark_answered", "mark_bounced", "plan", "plan_fresh", "send_due", "settle_held"]
