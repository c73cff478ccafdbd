"""Commands that make what goes on paper: pattern, bench card, handout."""
