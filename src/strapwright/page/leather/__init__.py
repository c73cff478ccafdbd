"""The stock of hides, and one hide as it is drawn.

`stock` works out what hides can give, once each, and which a job is laid on. `file` makes tables and text of
what was drawn; `form` has its fields and figures, `picture` what it is drawn over, `photograph` what it is
measured from. It imports from `sheet/`.
"""
