"""The width of the cut: looked up among what was measured, for a leather and its thickness.

Imports profile.
"""
