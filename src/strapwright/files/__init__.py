"""Reading and writing files: what every file has in common, whatever it holds."""
