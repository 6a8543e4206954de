"""The simulator's conduction against printed examples and closed forms: nothing here rests on the simulator itself."""

import numpy as np
import pytest

from hotspot.synthetic.heat import STEFAN_BOLTZMANN, Network, Stepper, settle


def fin(nodes, length, diameter, conductivity, film, wall_c):
    """A rod on a wall, losing heat along its side and at its tip; returns (network, k A / dx)."""
    network = Network(nodes)
    step = length / nodes
    area = np.pi / 4 * diameter**2
    along = conductivity * area / step
    network.rod(np.arange(nodes), along)
    network.tied[0] = 2 * along
    network.constant[:] = film * np.pi * diameter * step
    network.constant[-1] += 1 / (1 / (2 * along) + 1 / (film * area))
    network.capacity[:] = 1.0
    return network, along, film * area


def no_heat(celsius):
    return np.zeros_like(celsius)


@pytest.mark.published
def test_rod_with_convective_tip():
    # Lienhard & Lienhard, A Heat Transfer Textbook, example 4.8: aluminium rod of 20 mm, 80 mm long, k 205,
    # wall 150, air 26 degC, h 120: mL = 0.8656, tip 111.43 degC.
    network, along, tip_film = fin(400, 0.08, 0.02, 205.0, 120.0, 150.0)
    celsius = settle(network, no_heat, 26.0, np.full(400, 150.0))
    tip = (celsius[-1] * 2 * along + 26.0 * tip_film) / (2 * along + tip_film)
    assert tip == pytest.approx(111.43, abs=0.01)


@pytest.mark.published
@pytest.mark.parametrize(("conductivity", "printed_w"), [(398.0, 8.3), (180.0, 5.6), (14.0, 1.6)])
def test_very_long_rod(conductivity, printed_w):
    # Incropera & DeWitt, Fundamentals of Heat and Mass Transfer, example 3.9 (numbers from memory; they agree with
    # sqrt(h P k A) theta): rod of 5 mm, wall 100, air 25 degC, h 100: 8.3, 5.6 and 1.6 W.
    network, along, _ = fin(1500, 1.5, 0.005, conductivity, 100.0, 100.0)
    celsius = settle(network, no_heat, 25.0, np.full(1500, 100.0))
    assert 2 * along * (100.0 - celsius[0]) == pytest.approx(printed_w, abs=0.05)


@pytest.mark.published
def test_ground_cooled_by_cold_air():
    # Geankoplis, Transport Processes and Unit Operations, example 5.3-1: soil at 15.6 degC, air at -17.8 degC,
    # h 11.36, k 0.865, diffusivity 4.65e-7, 5 h: surface at 267.982 K (closed form; the book reads -5.4 degC).
    nodes, depth, conductivity, film = 500, 0.6, 0.865, 11.36
    network = Network(nodes)
    step = depth / nodes
    network.rod(np.arange(nodes), conductivity / step)
    network.capacity[:] = conductivity / 4.65e-7 * step
    network.constant[0] = 1 / (1 / film + step / 2 / conductivity)
    stepper = Stepper(network, 20.0, -17.8)
    celsius = np.full(nodes, 15.6)
    for _ in range(900):
        celsius = stepper.step(celsius, no_heat, (-17.8, 0.0), rounds=1)
    inner = 2 * conductivity / step
    surface = (celsius[0] * inner - 17.8 * film) / (inner + film)
    assert surface + 273.15 == pytest.approx(267.982, abs=0.01)


def test_lumped_body_warms_exponentially():
    # theta = 30 (1 - exp(-t / 120)): closed form of a lumped body with constant loss.
    network = Network(1)
    network.capacity[0], network.constant[0] = 12.0, 0.1
    stepper = Stepper(network, 0.1, 25.0)
    celsius = np.array([25.0])
    seen = []
    for k in range(6000):
        celsius = stepper.step(celsius, lambda _: np.array([3.0]), (25.0, 0.0), rounds=1)
        if (k + 1) % 600 == 0:
            seen.append(celsius[0])
    expected = 25.0 + 30.0 * (1 - np.exp(-np.arange(60, 601, 60) / 120.0))
    assert seen == pytest.approx(expected, abs=0.006)


def test_free_convection_and_radiation_balance_the_heat():
    network = Network(1)
    network.natural[0], network.radiant[0] = 0.004, 0.001
    celsius = settle(network, lambda _: np.array([0.8]), 20.0)
    rise = celsius[0] - 20.0
    radiated = 0.001 * STEFAN_BOLTZMANN * ((celsius[0] + 273.15) ** 4 - 293.15**4)
    assert 0.004 * rise**1.25 + radiated == pytest.approx(0.8, abs=1e-6)


def test_layers_in_series_add_their_resistances():
    # 10 mm of k 0.3 and 10 mm of k 120 in a strip of 1 mm cells, 2 mm thick, one end held at 100, heat of 0.01 W in
    # at the other: drop = q (sum of lengths / (k A)).
    network = Network(20)
    conductivity = np.where(np.arange(20) < 10, 0.3, 120.0)[None, :]
    network.sheet(np.arange(20)[None, :], conductivity, 0.002)
    network.tied[0] = 2 * 0.3 * 0.002  # half a cell to the wall
    heat = np.zeros(20)
    heat[-1] = 0.01
    celsius = settle(network, lambda _: heat, 0.0, np.full(20, 100.0))
    wide = 1e-3 * 0.002
    assert celsius[-1] - 100.0 == pytest.approx(0.01 * (10e-3 / (0.3 * wide) + 9.5e-3 / (120.0 * wide)), rel=1e-9)


def test_resistance_that_runs_away_is_refused():
    network = Network(1)
    network.constant[0] = 0.1
    with pytest.raises(ArithmeticError, match="does not settle"), np.errstate(over="ignore", invalid="ignore"):
        settle(network, lambda celsius: 1.0 + 0.2 * celsius, 20.0)


def test_a_step_of_nothing_is_refused():
    with pytest.raises(ValueError, match="not above 0"):
        Stepper(Network(1), 0.0, 20.0)
