"""Made connectors: where their heat goes, and whether they behave as connectors are known to."""

from dataclasses import replace

import numpy as np
import pytest

from hotspot.synthetic.cases import KINDS, LOADS, random_case
from hotspot.synthetic.connector import ConnectorSpec, Load, LoadStage, Model, settled, simulate


def six(contact_ohm=2e-3, **more):
    return ConnectorSpec(1, 6, tuple(np.broadcast_to(contact_ohm, 6)), (1.5,) * 6, **more)


def full(amps, seconds=1500.0):
    return Load((LoadStage("full", seconds, tuple(np.broadcast_to(float(amps), 6))),))


@pytest.mark.published
def test_wire_makes_the_heat_of_its_gauge():
    # ASTM B258 / the printed table after Floyd: AWG 14 (2.0809 mm2) has 2.525 ohm per 1000 ft at 20 degC.
    model = Model(ConnectorSpec(1, 1, (0.0,), (2.0809,), wire_m=0.3048))
    heat = model.wire_w(np.full(model.network.n, 20.0), np.array([10.0])).sum()
    assert heat == pytest.approx(10.0**2 * 2.525e-3, rel=5e-4)


def test_heat_made_is_heat_stored_and_lost():
    spec = six([2e-3, 2e-3, 9e-3, 2e-3, 2e-3, 2e-3], upstream_k=(0, 0, 0, 0, 40.0, 0))
    result = simulate(spec, full(12.0))
    net = Model(spec).network
    made = result.contact_w.sum(axis=1) + result.wire_w.sum(axis=1)
    lost = np.array([net.loss_w(c, a).sum() for c, a in zip(result.nodes_c, result.ambient_c, strict=True)])
    last = Model(spec).wire[4, Model(spec).body_node]
    body = result.ambient_c + 40.0 * (1 - np.exp(-result.time_s / 500.0))
    came = net.tied[last] * (body - result.nodes_c[:, last])
    step = np.diff(result.time_s)
    stored = (result.nodes_c[-1] - result.nodes_c[0]) @ net.capacity
    assert stored == pytest.approx(((made + came - lost)[1:] * step).sum(), rel=2e-3)
    assert stored > 0.1 * (made[1:] * step).sum()


def test_long_soak_ends_where_the_steady_state_is():
    spec = six([2e-3, 2e-3, 2e-3, 8e-3, 2e-3, 2e-3])
    soaked = simulate(spec, full(10.0, 9000.0), dt=20.0)
    steady = settled(spec, (10.0,) * 6)
    assert soaked.face_pin_c[-1] == pytest.approx(steady.face_pin_c[0], abs=0.01)
    assert soaked.pin_c[-1] == pytest.approx(steady.pin_c[0], abs=0.01)


def test_halving_the_step_changes_little():
    spec = six([2e-3, 2e-3, 2e-3, 8e-3, 2e-3, 2e-3])
    coarse, fine = (simulate(spec, full(12.0), dt=dt) for dt in (2.0, 1.0))
    assert np.abs(coarse.face_pin_c - fine.face_pin_c[::2]).max() < 0.1


def test_mirror_image_connector_has_a_mirror_image_face():
    left = simulate(six([8e-3, 2e-3, 2e-3, 2e-3, 2e-3, 2e-3]), full(10.0, 300.0))
    right = simulate(six([2e-3, 2e-3, 2e-3, 2e-3, 2e-3, 8e-3]), full(10.0, 300.0))
    assert np.abs(left.face_c - right.face_c[:, :, ::-1]).max() < 1e-3


def test_face_starts_late():
    # The S shape: the inside warms fastest at once, the face only after a while, and so an exponential fitted from
    # the start of the load to the first 5 min promises far too much.
    from scipy.optimize import curve_fit

    result = simulate(six(), full(10.0))
    rise = result.face_pin_c[:, 2] - 21.0
    assert np.diff(result.pin_c[:, 2]).argmax() == 0
    assert result.time_s[np.diff(rise).argmax()] > 40.0
    early = result.time_s <= 300.0
    promise, _ = curve_fit(
        lambda t, a, tau: a * (1 - np.exp(-t / tau)), result.time_s[early], rise[early], (20.0, 200.0), maxfev=20000
    )
    assert promise[0] > 1.5 * rise[-1]
    assert rise[150] < rise[-1] < 1.05 * rise[600]


def test_loose_contact_is_hottest_and_heats_its_neighbours():
    healthy = settled(six(), (10.0,) * 6).face_pin_c[0]
    loose = settled(six([2e-3, 2e-3, 2e-3, 8e-3, 2e-3, 2e-3]), (10.0,) * 6).face_pin_c[0]
    assert loose.argmax() == 3
    assert (loose > healthy + 0.1).all()
    assert loose[2] - healthy[2] > loose[0] - healthy[0]


def test_thin_wire_heats_along_its_length_and_upstream_heat_comes_in():
    thin = settled(ConnectorSpec(1, 4, (2e-3,) * 4, (1.5, 1.5, 0.5, 1.5)), (10.0,) * 4)
    fed = settled(ConnectorSpec(1, 4, (2e-3,) * 4, (1.5,) * 4, upstream_k=(0, 0, 60.0, 0)), (10.0,) * 4)
    loose = settled(ConnectorSpec(1, 4, (2e-3, 2e-3, 8e-3, 2e-3), (1.5,) * 4), (10.0,) * 4)
    over_peers = []  # heat that flows in along the wire of pin 3, against the median of the pins, W
    for steady in (thin, fed, loose):
        slope = (steady.wire_c[0, :, 1] - steady.wire_c[0, :, 0]) / (steady.spec.wire_m / 16)
        inwards = 390.0 * np.array(steady.spec.wire_mm2) * 1e-6 * slope
        over_peers.append(inwards[2] - np.median(inwards))
    assert over_peers[0] > 0
    assert over_peers[1] > 0
    assert over_peers[2] < 0
    assert thin.wire_w[0, 2] == pytest.approx(3 * thin.wire_w[0, 1], rel=0.35)


def test_less_cooled_wires_make_a_hotter_middle():
    even = settled(six(), (10.0,) * 6).face_pin_c[0]
    bundle = settled(six(wire_cooling=(0.7, 0.7, 0.4, 0.4, 0.7, 0.7)), (10.0,) * 6).face_pin_c[0]
    assert bundle[2] - even[2] > bundle[0] - even[0] > 0


def test_population_has_the_known_spreads():
    """Healthy connectors at their settled load: how unequal their faces are, and how much of the rise they show."""
    shown, equal, unequal = [], [], []
    for seed in range(30):
        for kind, ratios in (("equal", equal), ("unequal", unequal)):
            case = random_case(np.random.default_rng(1000 + seed), "healthy", kind)
            amps = np.array(case.load.stages[0].amps)
            steady = settled(case.spec, tuple(amps))
            face, inside = steady.face_pin_c[0] - 21.0, steady.pin_c[0] - 21.0
            ratios.append(face.max() / np.median(face[amps > 0]))
            shown.append(face[inside.argmax()] / inside.max())
    low, middle, high = np.percentile(shown, [5, 50, 95])
    assert 0.37 < low < 0.47
    assert 0.54 < middle < 0.64
    assert 0.70 < high < 0.80
    assert 1.01 < np.percentile(equal, 5) < np.percentile(equal, 95) < 1.14
    assert 1.05 < np.percentile(unequal, 5) < 1.3
    assert 3.0 < np.percentile(unequal, 95) < 5.0


def test_cases_are_drawn_alike_and_run():
    seen = set()
    for seed in range(12):
        case, again = (random_case(np.random.default_rng(seed)) for _ in range(2))
        assert case == again
        seen.add((case.kind, case.load_kind))
        result = simulate(case.spec, case.load, dt=10.0)
        assert np.isfinite(result.nodes_c).all()
        assert len(case.faulty) == {"healthy": 0, "two contacts": 2}.get(case.kind, 1)
    assert len(seen) > 5
    first, second = (simulate(case.spec, case.load, dt=10.0) for _ in range(2))
    assert np.array_equal(first.nodes_c, second.nodes_c)


@pytest.mark.parametrize("kind", KINDS)
@pytest.mark.parametrize("load_kind", LOADS)
def test_every_kind_can_be_asked_for(kind, load_kind):
    case = random_case(np.random.default_rng(5), kind, load_kind)
    assert (case.kind, case.load_kind) == (kind, load_kind)
    assert all(max(stage.amps) > 0 for stage in case.load.stages)


def test_wrong_counts_are_refused():
    with pytest.raises(ValueError, match="contact_ohm: 3 values for 4 pins"):
        ConnectorSpec(1, 4, (2e-3,) * 3, (1.5,) * 4)
    with pytest.raises(ValueError, match="2 currents for 6 pins"):
        simulate(six(), Load((LoadStage("full", 60.0, (1.0, 1.0)),)))
    with pytest.raises(ValueError, match="not one of"):
        random_case(np.random.default_rng(0), "rusty")


def test_a_draught_cools_most_where_it_comes_from():
    still = ConnectorSpec(1, 6, (3e-3,) * 6, (1.5,) * 6)
    calm, blown = (settled(spec, (8.0,) * 6).face_pin_c[0] for spec in (still, replace(still, draught=10.0)))
    fall = calm - blown
    assert (fall > 1.0).all()
    assert (fall / (calm - 21.0))[0] > (fall / (calm - 21.0))[-1]
