"""A job's layouts on the page: what they are made on, read once, drawn and changed, and how they stand.

`basis` is what a job is laid out on, `opened` reads and checks a layout once, `view` draws it and checks a
part where it is put, `standing` says how it stands beside others. It knows no request.
"""
