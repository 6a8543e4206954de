"""What small pins lose to the camera's blur: falling peak error, the loss, and an interval that holds it."""

import numpy as np
import pytest
from made_frames import frames_of, pins_at, session_of
from scipy.ndimage import gaussian_filter

from hotspot.extract import measure
from hotspot.extract.budget import blur_seen, losses, standard_uncertainty, terms
from hotspot.extract.series import collect
from hotspot.extract.source_size import edge_blurs, lost_share
from hotspot.physics.statistics import rectangular

FINE = 8
SURFACE = {"emissivity": 0.95, "set_emissivity": 0.95, "reflected": 25.0}


def seen(shape, sigma_px, *discs, hot=60.0, cold=25.0):
    """Hot discs (x, y, radius) as a camera of that blur shows them: drawn fine, blurred, averaged over the pixels."""
    rows, columns = ((axis + 0.5) / FINE - 0.5 for axis in np.indices((shape[0] * FINE, shape[1] * FINE)))
    fine = np.full(rows.shape, cold)
    for x, y, radius in discs:
        fine[(rows - y) ** 2 + (columns - x) ** 2 <= radius**2] = hot
    blurred = gaussian_filter(fine, sigma_px * FINE, mode="nearest")
    return blurred.reshape(shape[0], FINE, shape[1], FINE).mean(axis=(1, 3))


def test_the_peak_of_a_hot_square_of_1_3_and_10_pixels_falls_short_by_less_and_less():
    """The size-of-source effect as Pušnik and Geršak, Sensors 21(2):607 (2021), tell it: smaller targets read lower,
    and from 10 x 10 pixels the middle is right. The picture is blurred by scipy."""
    short = []
    for side in (1, 3, 10):
        picture = np.full((41, 41), 25.0)
        first = 20 - side // 2
        picture[first : first + side, first : first + side] = 75.0
        short.append(75.0 - gaussian_filter(picture, 1.0).max())
    assert short[0] > short[1] > short[2]
    assert short[0] > 35.0
    assert short[2] < 0.05


@pytest.mark.parametrize("radius", [1.0, 2.0, 3.5, 5.0, 9.0])
@pytest.mark.parametrize("sigma", [0.6, 1.0])
def test_the_lost_share_is_what_scipy_blurs_out_of_a_disc(radius: float, sigma: float) -> None:
    """A disc drawn on a grid of 1/16 px, blurred by scipy.ndimage: the mean over it falls by the closed form."""
    fine = 16
    half = int((radius + 5 * sigma) * fine)
    down, right = np.mgrid[-half : half + 1, -half : half + 1] / fine
    disc = (down**2 + right**2 <= radius**2).astype(float)
    blurred = gaussian_filter(disc, sigma * fine, truncate=6.0)
    assert float(lost_share(radius, sigma)) == pytest.approx(1.0 - blurred[disc > 0].mean(), abs=0.01)


@pytest.mark.parametrize("sigma", [0.5, 0.8, 1.2])
def test_the_blur_is_seen_at_sharp_edges_and_never_taken_for_much_less(sigma: float) -> None:
    """With the pixel's own width, 1/sqrt(12): what is seen is that or slightly more."""
    rng = np.random.default_rng(4)
    picture = seen((40, 80), sigma, (20.3, 20.2, 7.0), (55.6, 19.7, 8.0)) + rng.normal(0, 0.1, (40, 80))
    found = edge_blurs(picture, 0.1)
    assert found.size >= 12
    assert np.quantile(found, 0.2) == pytest.approx(np.hypot(sigma, 1 / np.sqrt(12)), rel=0.15)
    assert edge_blurs(np.full((40, 80), 30.0) + rng.normal(0, 0.1, (40, 80)), 0.1).size == 0


def test_small_pins_read_low_within_what_their_interval_says():
    """Pins of 4, 6 and 8 px across in one picture with a large part that shows the blur."""
    pins = pins_at((20.2, 20.0), (40.4, 20.3), (60.0, 19.6))
    pins.radius_px[:] = (2.0, 3.0, 4.0)
    spots = [(x, y, r) for x, y, r in zip(pins.x_px, pins.y_px, pins.radius_px, strict=True)]
    warm = [seen((40, 80), 0.8, *spots, hot=25.0 + rise) for rise in (0.0, 20.0, 40.0)]
    rng = np.random.default_rng(8)
    session = session_of(surface=SURFACE, camera={"noise_k": 0.1})
    frames = frames_of([picture + rng.normal(0, 0.1, picture.shape) for picture in warm])
    series = collect(session, frames, pins, None, {0: "", 2: ""})
    short = 65.0 - series.surface_c[2]
    assert np.all(np.diff(short) < 0)
    assert short[0] > 5.0
    limits = losses(session, series)[2]
    assert np.all(limits >= 0.95 * short)
    assert np.all(limits <= 2.0 * short)
    assert np.all(1.96 * standard_uncertainty(session, series)[2] >= short)
    assert np.abs(losses(session, series)[0]).max() < 0.5  # cold, nothing is lost


def test_large_pins_with_a_sharp_edge_still_lose_at_their_rim_and_the_interval_holds():
    """Pins of 12.8 and 20 px across at a blur of 1 px: no doubt, but a tenth of the contrast."""
    pins = pins_at((20.0, 30.0), (55.0, 30.0))
    pins.radius_px[:] = (6.4, 10.0)
    spots = [(x, y, r) for x, y, r in zip(pins.x_px, pins.y_px, pins.radius_px, strict=True)]
    warm = [seen((60, 80), 1.0, *spots, hot=25.0 + rise) for rise in (0.0, 20.0, 40.0)]
    rng = np.random.default_rng(9)
    session = session_of(surface=SURFACE, camera={"noise_k": 0.1})
    frames = frames_of([picture + rng.normal(0, 0.1, picture.shape) for picture in warm])
    series = collect(session, frames, pins, None, {0: "", 2: ""})
    short = 65.0 - series.surface_c[2]
    assert np.all(short > 2.0)
    assert np.all(1.96 * standard_uncertainty(session, series)[2] >= short)
    assert np.all(losses(session, series)[2] <= 2.0 * short)


def test_the_blur_is_assumed_where_no_edge_shows_it():
    picture = seen((60, 60), 0.8, (30.0, 30.0, 3.0))
    session = session_of(surface=SURFACE, camera={"noise_k": 0.1})
    small = collect(session, frames_of([picture]), pins_at((30, 30), radius=3.0), None, {0: ""})
    flat = collect(session, frames_of([np.full((60, 60), 30.0)]), pins_at((30, 30), radius=3.0), None, {0: ""})
    assert blur_seen(session, flat).origin == "assumed"
    assert terms(session, small)["source_size"][0, 0] > rectangular(1.0)
    assert terms(session, flat)["source_size"][0, 0] == pytest.approx(0.0, abs=1e-6)


def test_an_assumed_blur_is_a_doubt_of_small_pins_and_a_seen_one_is_not():
    """A gentle hill has no sharp edge; a disc of 6 px has."""
    rows, columns = np.indices((60, 60), dtype=float)
    hill = 25.0 + 30.0 * np.exp(-((rows - 30) ** 2 + (columns - 30) ** 2) / 200.0)
    for picture, doubted in ((hill, True), (seen((60, 60), 0.8, (30.0, 30.0, 7.0)), False)):
        frames, pins = frames_of([picture]), pins_at((30, 30), radius=3.0)
        found = measure(session_of(surface=SURFACE, camera={"noise_k": 0.1}), frames, pins, (), None, {0: ""})
        assert ("blur_assumed" in found.readings["quality"][0].split(";")) is doubted
        assert "reads_low" in found.readings["quality"][0].split(";")
    found = measure(session_of(), frames_of([hill]), pins_at((30, 30), radius=1.2), (), None, {0: ""})
    assert "few_pixels" in found.readings["quality"][0].split(";")


def random_scene(rng, low, high):
    """(truths, picture, places, radius): four pins, warm housing, edges from sharp to soft, blur not told."""
    radius, sigma, soft = rng.uniform(low, high), rng.uniform(0.5, 1.0), rng.uniform(0, 1.5)
    pitch = radius * rng.uniform(2.4, 3.2)
    shape = (int(8 * radius) + 20, int(pitch * 5) + 24)
    rows, columns = ((axis + 0.5) / FINE - 0.5 for axis in np.indices((shape[0] * FINE, shape[1] * FINE)))
    y = shape[0] / 2 + rng.uniform(-0.5, 0.5)
    places = [(12 + radius + pitch * n + rng.uniform(-0.5, 0.5), y) for n in range(4)]
    rises = rng.uniform(10, 60, 4)
    fine = 25.0 + 0.4 * rises.mean() * np.exp(-(((rows - y) / (3 * radius)) ** 2))
    discs = [(rows - y) ** 2 + (columns - x) ** 2 <= radius**2 for x, _ in places]
    for disc, rise in zip(discs, rises, strict=True):
        fine[disc] = np.maximum(fine[disc], 25.0 + rise)
    if soft > 0.4:
        fine = gaussian_filter(fine, soft * FINE)
    shown = gaussian_filter(fine, sigma * FINE).reshape(shape[0], FINE, shape[1], FINE).mean(axis=(1, 3))
    return [fine[disc].mean() for disc in discs], shown, places, radius


@pytest.mark.parametrize(("low", "high"), [(1.6, 2.5), (2.5, 3.5), (3.5, 4.9)])
def test_the_interval_of_small_pins_holds_the_truth_and_not_by_width(low, high):
    """12 scenes of a seed that nothing was chosen on. One-sided limits cover more than 95 %; the width is at most
    1.6 times what 95 % of the errors need."""
    rng = np.random.default_rng(31415)
    away, halves = [], []
    for _ in range(12):
        truth, shown, places, radius = random_scene(rng, low, high)
        pictures = [25.0 + share * (shown - 25.0) + rng.normal(0, 0.1, shown.shape) for share in (0.0, 0.5, 1.0)]
        session = session_of(surface=SURFACE, camera={"noise_k": 0.1})
        series = collect(session, frames_of(pictures), pins_at(*places, radius=radius), None, {0: "", 2: ""})
        away.extend(np.abs(series.surface_c[2] - truth))
        halves.extend(1.96 * standard_uncertainty(session, series)[2])
    assert np.mean(np.array(away) < np.array(halves)) >= 0.93
    assert np.median(halves) <= 1.6 * np.quantile(away, 0.95)


def test_a_step_four_pixels_off_is_no_edge_here():
    # flat at the place itself while its far neighbours differ: no slope, so no blur, and nothing divided by 0
    picture = np.zeros((9, 24))
    picture[:, 14:] = 40.0
    assert np.isfinite(edge_blurs(picture, 0.0)).all()
