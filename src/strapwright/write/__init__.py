"""Files for machines and people, and the proof that they say what was planned."""
