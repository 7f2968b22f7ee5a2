"""One function for each thing that a person does. Views, the programming interface and the demo all come through here.

Each is atomic, locks what it changes, writes one audit event, applies the rules of safety at once and has the rest
judged after commit. Whether the person may do it at all is asked before, in `shop.access`.
"""
