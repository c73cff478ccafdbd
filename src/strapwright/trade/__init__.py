"""The rules of the trade as small pure functions, each with its formula and source."""
