"""The belt in the round, by the solid modeller: the only room besides a maker's sketch that loads it."""
