"""Hides, and parts laid on them."""
