"""The belt in the round, by the solid modeller: leather, buckle, fittings; models, pictures, templates.

Imports job and below; the only package besides `parts.sketch` that loads the modeller.
"""
