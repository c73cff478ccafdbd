"""Test pieces cut to measure a machine: kerf coupon, blade coupon, trial of a new leather; and their record.

Imports planning and everything below.
"""
