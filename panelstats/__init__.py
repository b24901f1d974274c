"""Statistics for a panel of tasters (not panel data): what the scores prove, and which palates can be relied on."""

import lazy_loader

__getattr__, __dir__, __all__ = lazy_loader.attach_stub(__name__, __file__)
