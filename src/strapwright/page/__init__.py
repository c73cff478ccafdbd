"""The bench in the browser: a shop's folder as a local page, in the order of the work.

`sheet/` is what is shown and changed. `door` says who may come in, `worker` runs what takes long in a
process of its own, `events` says what has happened to every open tab. `bench` is what all routes share;
`places`, `job_routes`, `layout_routes` and `output_routes` are the routes, `made` ends a job, `respond`
says how they answer, `app` joins them, `serve` opens the page. It imports from everywhere below; only `cli`
is above.
"""
