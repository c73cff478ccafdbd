"""The shop as it is shown and changed: hardware, machines with their kerfs, settings and prices.

`entries` are the catalogue's, `measuring` a buckle by callipers, `hardware_pictures` how both are drawn;
`machines` and `house` are the machines and the settings. Imports `sheet/`; only routes import it.
"""
