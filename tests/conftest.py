"""Settings for every test."""

from hypothesis import settings

# No test fails for being slow: machines differ, and first calls load what later ones find loaded.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
