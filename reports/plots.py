"""The two pictures of an engine as Plotly figures: its oil, and the power it ran at.

Figures are plain dicts for `parts/plot.html`; colours are names of the printed card ("var(--ink)"), looked up by the
page or by `shop.palette.resolve`. Nothing is judged here: lines, windows and spans come from the assessment. Each
picture has a key in words under it and a table beside it that says the same.
"""

from reports.engine.plot_power import power_key, power_picture
from reports.oil.plot import oil_key, oil_picture

__all__ = ["oil_key", "oil_picture", "power_key", "power_picture"]
