"""Settings of every test run."""

from hypothesis import settings

# a shared machine makes single examples slow now and then; examples are the same on every run
settings.register_profile("steady", deadline=None, derandomize=True)
settings.load_profile("steady")
