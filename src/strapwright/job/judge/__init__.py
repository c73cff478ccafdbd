"""Findings about calculated dimensions: what does not fit, what is weak, what is likely a slip.

Takes dimensions, never drafts. Imports dimensions, the spec, the catalogue and trade.
"""
