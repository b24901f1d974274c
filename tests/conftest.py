from hypothesis import settings

# A busy machine is no fault of the code: properties are not timed.
settings.register_profile("untimed", deadline=None)
settings.load_profile("untimed")
