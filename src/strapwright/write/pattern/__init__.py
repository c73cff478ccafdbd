"""Paper patterns at true size: pieces in tiles on sheets of paper, as PDF.

Imports drawing, job and nesting.
"""
