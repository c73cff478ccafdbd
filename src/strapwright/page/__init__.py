"""The bench in the browser: a shop's folder as a local page, in the order of the work.

`door` says who may come in, `shop` what the folder holds, `job_file` reads and edits one job's file,
`form` makes fields out of the job's own models, `sheet` drafts what is shown of a job, `layout_view` what
is shown of its layout, `history` undoes and redoes, `permission` says which programs of a job may run,
`worker` runs what takes long in a process of its own, `events` says what has happened to every open tab.
`bench` is what all routes share; `places`, `job_routes`, `layout_routes` and `output_routes` are the routes,
`respond` how they answer, `app` joins them, `serve` opens the page. It imports from everywhere below; only
`cli` is above.
"""
