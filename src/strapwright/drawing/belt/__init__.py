"""Views of a draft: the blank and its ends, the section of the fold, keeper, hole table, a run of sizes.

`job_drawing` puts them on one sheet. Imports drawing and job.
"""
