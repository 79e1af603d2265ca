"""What the pieces of a section write into while it is put together."""

from __future__ import annotations

from typing import TYPE_CHECKING

import numpy as np

from simulator.section.links import Links

if TYPE_CHECKING:
    from numpy.typing import ArrayLike, NDArray

    from simulator.section.layout import SectionLayout
    from simulator.section.mesh import RectangularMesh

SURFACE_PORTS = ("floor", "outside", "bottom", "sides")


class Assembly:
    """Cells, links between them, and ports, before they become a `SectionOperators`.

    Parameters
    ----------
    layout : SectionLayout
    mesh : RectangularMesh
    cell_of : (ny, nz) int
        Cell number of each rectangle, -1 for none.
    count : int
        Number of cells in all.
    """

    def __init__(
        self, layout: SectionLayout, mesh: RectangularMesh, cell_of: NDArray[np.int64], count: int
    ) -> None:
        self.layout, self.mesh, self.cell_of = layout, mesh, cell_of
        self.solid_conductivity = np.array([solid.conductivity for solid in layout.solids])
        self.solid_heat_capacity = np.array([solid.heat_capacity for solid in layout.solids])
        self.solid_water = np.array([solid.water for solid in layout.solids])
        ports = len(layout.lanes) + len(SURFACE_PORTS)
        self.capacity = np.zeros(count)
        self.water = np.zeros(count)
        self.across = np.zeros(count)
        self.depth = np.zeros(count)
        self.injection = np.zeros((count, ports))
        self.reading = np.zeros((count, ports))
        self.conductance = np.zeros(ports)
        self.wall_resistance = np.zeros(len(layout.lanes))
        self._entries: list[tuple[NDArray[np.int64], NDArray[np.int64], NDArray[np.float64]]] = []

    def port(self, name: str) -> int:
        """Column of a surface port."""
        return len(self.layout.lanes) + SURFACE_PORTS.index(name)

    def add(self, i: ArrayLike, j: ArrayLike, value: ArrayLike) -> None:
        """Add (n,) entries to the stiffness matrix."""
        self._entries.append((
            np.asarray(i, dtype=np.int64).ravel(),
            np.asarray(j, dtype=np.int64).ravel(),
            np.asarray(value, dtype=np.float64).ravel(),
        ))  # fmt: skip

    def link(self, i: NDArray[np.int64], j: NDArray[np.int64], conductance: ArrayLike) -> None:
        """Join (n,) pairs of cells by conductances [W/(m.K)]."""
        value = np.asarray(conductance, dtype=np.float64)
        self.add(i, i, value)
        self.add(j, j, value)
        self.add(i, j, -value)
        self.add(j, i, -value)

    def film(self, cells: NDArray[np.int64], port: int, conductance: NDArray[np.float64]) -> None:
        """Join (n,) cells to what lies behind a surface port by conductances [W/(m.K)]."""
        self.add(cells, cells, conductance)
        self.injection[cells, port] += conductance
        self.reading[cells, port] += conductance
        self.conductance[port] += float(conductance.sum())

    def links(self) -> Links:
        """Return the entries of the stiffness matrix [W/(m.K)]."""
        rows, columns, values = (np.concatenate([entry[n] for entry in self._entries]) for n in range(3))
        # Short numbers: a section keeps them as long as it lives.
        return Links(rows.astype(np.int32), columns.astype(np.int32), values)
