"""The list of work: what it shows of each job, what a job begins with, job folders as a whole."""

from __future__ import annotations
