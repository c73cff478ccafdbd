"""The machine file: its tables, read, checked, and added to.

Imports trade and files.
"""
