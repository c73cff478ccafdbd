"""Layouts: which part lies where on which hide, verified, and read and written as JSON.

`verify` checks a layout afresh and takes nothing from any search; `strap_cutter` lists the strips to pull.

Imports hide.
"""
