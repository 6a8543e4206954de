"""The plate of finite cells against closed forms that nobody here made."""

import numpy as np
import pytest

from hotspot.physics.plate import free_edges, neighbours, plate_entries


def solved(inside, m2, beta, heat):
    from scipy.sparse import coo_array
    from scipy.sparse.linalg import spsolve

    rows, columns, values = plate_entries(inside, m2, beta)
    system = coo_array((values, (rows, columns)), shape=(inside.size, inside.size)).tocsr()
    cells = np.flatnonzero(inside)
    out = np.zeros(inside.size)
    out[cells] = spsolve(system[cells][:, cells].tocsc(), heat.ravel()[cells])
    return out.reshape(inside.shape)


@pytest.mark.published
def test_point_source_is_the_screened_poisson_green_function():
    """T = Q / (2 pi k t) K0(m r): Carslaw and Jaeger (1959), K0 of scipy.special. 1 % beyond 3 cells."""
    from scipy.special import k0

    size, m2 = 161, 0.006
    inside = np.ones((size, size), bool)
    heat = np.zeros((size, size))
    heat[80, 80] = 1.0
    found = solved(inside, m2, 0.0, heat)
    row, column = np.indices(inside.shape) - 80
    distance = np.hypot(row, column)
    ring = (distance >= 3) & (distance <= 30)
    exact = k0(np.sqrt(m2) * distance[ring]) / (2 * np.pi)
    assert found[ring] == pytest.approx(exact, rel=0.01)


@pytest.mark.published
def test_strip_heated_at_one_end_is_the_fin_with_adiabatic_tip():
    """T(x) / T(0) = cosh(m (L - x)) / cosh(m L): the fin of uniform section with an adiabatic tip (from memory)."""
    m2, length = 0.003, 60
    inside = np.ones((1, length), bool)
    heat = np.zeros((1, length))
    heat[0, 0] = 1.0
    found = solved(inside, m2, 0.0, heat)[0]
    m, x = np.sqrt(m2), np.arange(length)
    exact = np.cosh(m * (length - 0.5 - x)) / np.cosh(m * (length - 0.5))
    assert found / found[0] == pytest.approx(exact, rel=2e-3)


def test_heat_put_in_is_heat_lost():
    inside = np.ones((12, 17), bool)
    inside[:3, :4] = False
    heat = np.where(inside, 1.0, 0.0)
    found = solved(inside, 0.01, 0.05, heat)
    lost = (found * (0.01 + 0.05 * free_edges(inside)))[inside].sum()
    assert lost == pytest.approx(heat.sum())
    assert (found[~inside] == 0).all()


def test_neighbours_and_edges_of_a_corner():
    inside = np.array([[True, True], [True, False]])
    first, second = neighbours(inside)
    assert sorted(zip(first.tolist(), second.tolist(), strict=True)) == [(0, 1), (0, 2)]
    assert free_edges(inside).tolist() == [[2, 3], [3, 0]]
