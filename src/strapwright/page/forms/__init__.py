"""Forms of the page: a field for every key of a model, and what is posted as edits of a file's text.

`field` is one field, made of a model's key, what stands in it and what is written for it; `form` puts fields
together and makes edits of what is posted; `page_words` are labels, groups and messages; `toml_text` edits
single values of a file's text.
"""
