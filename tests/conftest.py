"""What all tests share."""

from hypothesis import settings

# How long an example takes, with whatever else the machine does, says nothing of what it shows.
settings.register_profile("without a deadline", deadline=None)
settings.load_profile("without a deadline")
