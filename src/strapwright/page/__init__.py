"""The bench in the browser: a shop's folder as a local page, in the order of the work.

`sheet/` is what is shown and changed of a job, `leather/` the same of hides, `server/` what all addresses
share, `routes/` what each of them answers; `app` joins them, `serve` opens the page. It imports from
everywhere below; only `cli` is above.
"""
