"""The stock of hides, and one hide as it is drawn.

`stock` works out what hides can give, once each; `choice` says which a job is laid on. `file` makes tables
and text of what was drawn; `form` has its fields, `view` its figures, `picture` what it is drawn over. It
imports from `sheet/`.
"""
