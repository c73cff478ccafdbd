"""Findings about a draft: what does not fit, what is weak, what is likely a slip. A new one is added here.

`strap` lists them in the order they are shown. Imports drafted straps, dimensions, the catalogue and rules.
"""
