"""The handout: one document that gives a design away to a person who owns no software.

`words` reads its sentences, `content` fills them from the draft, `pdf` sets them with the pattern's sheets.
Imports write.card and write.pattern.
"""
