"""Hides in stock: a folder of them, and the remnants of those that were cut, as hide files.

Imports layout and hide.
"""
