"""The bench in the browser: a shop's folder as a local page, in the order of the work.

`forms/` are fields and what is written for them, `sheet/` is what is shown and changed of a job, `leather/`
the same of hides, `workshop/` of tools and settings; `layouts` and `layout_view` are a job's layouts, `jobs`
the list of work. `server/` is what all addresses share, `routes/` what each of them answers; `app` joins
them, `serve` opens the page, `shortcut` puts its icon on the desktop. It imports from everywhere below; only
`cli` is above.
"""
