"""The shop as it is shown and changed: hardware, machines with their kerfs, settings and prices.

`calliper` draws where to measure, `to_scale` what is measured; `model_form` makes fields of a file's model.
Imports `sheet/`; only routes import it.
"""
