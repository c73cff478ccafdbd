"""Buckles, fasteners, leathers and punches by name: those shipped and the user's own.

`buckle`, `hardware` and `leather` are the entries, `file` reads them and adds one. Imports rules
and files.
"""
