"""Layouts: which part lies where on which hide, verified, and read and written as JSON.

`verify` checks a layout afresh and takes nothing from any search. Imports hide.
"""
