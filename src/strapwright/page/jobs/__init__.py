"""The shop's jobs as a list, and each as a folder.

`view` is what the list of work shows, `first_belt` what a job begins with, `folders` copies, puts away and
puts back. It imports from `sheet/`.
"""

from __future__ import annotations
