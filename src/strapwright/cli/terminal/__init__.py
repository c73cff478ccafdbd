"""What all commands share: their options, how they read a job or a layout, and how they print.

Imports api and below.
"""
