"""What a ribbed or rough wall adds to the film of air in a pipe, as compiled scalar functions.

Sources
-------
[1] R. H. Norris, in A. E. Bergles and R. L. Webb (eds.), Augmentation of Convective Heat and Mass Transfer,
    ASME (1970) 16-26: Nu / Nu_smooth = (f / f_smooth)^n, n = 0.68 Pr^0.215, f / f_smooth up to 4 (from
    memory).
"""

from __future__ import annotations

from simulator.kernel import kernel
from simulator.physics.internal_flow_kernels import LAMINAR_END, friction_factor

HIGHEST_FRICTION_RATIO = 4.0
"""Friction over that of the smooth pipe from which heat transfer no longer rises [1] [-]."""


@kernel
def rough_film_bound(reynolds: float, prandtl: float, relative_roughness: float) -> float:
    """Highest ratio of the film on a rough wall to that on a smooth one [-] [1]; 1 in laminar flow."""
    if reynolds <= LAMINAR_END or relative_roughness <= 0.0:
        return 1.0
    ratio = friction_factor(reynolds, relative_roughness) / friction_factor(reynolds, 0.0)
    bound: float = min(max(ratio, 1.0), HIGHEST_FRICTION_RATIO) ** (0.68 * prandtl**0.215)
    return bound


@kernel
def film_factor(reynolds: float, prandtl: float, relative_roughness: float, enhancement: float) -> float:
    """Factor on the smooth-pipe film [-].

    `enhancement` (0 to 1) moves between the film of the smooth pipe, as measured in corrugated drain pipe,
    and the bound for rough walls.
    """
    if enhancement <= 0.0:
        return 1.0
    return 1.0 + enhancement * (rough_film_bound(reynolds, prandtl, relative_roughness) - 1.0)
