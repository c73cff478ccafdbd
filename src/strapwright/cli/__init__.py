"""The command line: one module a command, each a thin call of the library."""
