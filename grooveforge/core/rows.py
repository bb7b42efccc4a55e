"""Rows of tables that are kept as columns."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray


def first_of_each(alike: Sequence[NDArray[Any]], best: Sequence[NDArray[Any]]) -> NDArray[np.int64]:
    """Rows in the order of some columns, the first of them first; of rows that are alike in all of these, one.

    Parameters
    ----------
    alike : columns (n,) of one length. best : columns by which, lowest first, it is chosen among rows that are alike.
    """
    order = np.lexsort((*reversed(best), *reversed(alike)))
    new = np.ones(order.size, bool)
    new[1:] = False
    for column in alike:
        new[1:] |= np.diff(column[order]) != 0
    return order[new].astype(np.int64)
