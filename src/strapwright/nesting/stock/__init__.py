"""Hides in stock: a folder of them, what is left of one that was cut, and the strap cutter's list.

Imports layout and hide.
"""
