"""What a person asks for, and the draft that answers it."""
