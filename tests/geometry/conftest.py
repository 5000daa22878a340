"""The same examples on every run: a property that fails at all fails for everyone."""

from hypothesis import settings

settings.register_profile("geometry", derandomize=True, deadline=None, database=None)
settings.load_profile("geometry")
