"""What a work sheet shows and changes: a shop's folder, a job's file, its forms, drafts and steps.

`shop` finds files by name and follows none out of the folder, `job_file` edits single values of a job's
text, `form` makes fields of the job's models and edits of what is posted, `job_view` drafts what is shown,
`history` keeps steps to be undone, `permission` says which programs of a job may run, `pictures` are what
choices are picked by. It imports from below the page and knows no request.
"""
