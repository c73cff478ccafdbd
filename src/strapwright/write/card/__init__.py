"""The bench card: what goes to the bench with the leather, as HTML and as PDF.

`blocks` are its contents, `card`, `orders` and `work` fill them, `html` and `pdf` set them. Imports drawing,
machine, nesting and job.
"""
