"""Measuring a buckle or fastener: what to ask, drawn and with its range, and the entry the answers make.

Imports the catalogue and the spec.
"""
