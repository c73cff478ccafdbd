"""What all commands share: options, reports, and jobs from CSV files.

Imports api and below.
"""
