"""Which columns are joined to each other, through how many columns it may be."""

from __future__ import annotations

from typing import cast

import numpy as np
from numpy import int32
from numpy.typing import NDArray


def parts_of(count: int, link: NDArray[int32]) -> NDArray[int32]:
    """Return the number of the connected part that each of ``count`` columns belongs to, (n,), by links (m, 2)."""
    # Loading it takes a tenth of a second: the list of cases stands without it.
    from scipy.sparse import coo_array, csgraph  # noqa: PLC0415

    first, second = link.T
    graph = coo_array((np.ones(len(first)), (first, second)), shape=(count, count))
    return cast("NDArray[int32]", csgraph.connected_components(graph, directed=False)[1])
