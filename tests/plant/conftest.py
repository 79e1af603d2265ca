"""Property tests here call compiled functions: the first call compiles, so no deadline for one example."""

from __future__ import annotations

from hypothesis import settings

settings.register_profile("compiled", deadline=None)
settings.load_profile("compiled")
