"""Views of a draft: the blank and its ends, the section of the fold, keeper, hole table, a run of sizes.

`draft` puts them on one sheet. Imports drawing and job.
"""
