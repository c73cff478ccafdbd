"""What a work sheet shows and changes: a shop's folder, drafts, cut files, papers and steps.

`shop` finds files by name and follows none out of the folder, `job_view` drafts what is shown, `cut_form` and
`cut_view` are its cut files, `papers` and `card_ticks` its work by hand, `made_view` what being made does,
`orders` a table of belts, `history` keeps steps to be undone, `permission` says which programs of a job may
run, `pictures` are what choices are picked by. It imports from below the page and knows no request.
"""
