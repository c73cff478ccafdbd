"""What a drafted job costs: leather by area, hardware by piece, minutes by rate, margin.

`price` makes the bill of `lines`; `worth` says which part matters more where not everything fits. Imports
drafts.
"""
