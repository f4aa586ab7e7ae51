"""The training room: drawn patches, a short run, the written file. Needs torch."""

import json

import numpy as np
import pytest

torch = pytest.importorskip(
    "torch", reason="torch is installed for training only (analysis/training)."
)

from analysis.training import pacing, teaching  # noqa: E402  after the check
from analysis.training.camera import met_by_the_sight, photograph  # noqa: E402
from analysis.training.export import write_network  # noqa: E402
from analysis.training.lighting import passed_on  # noqa: E402
from analysis.training.opening_network import OpeningNet, weights_of  # noqa: E402
from analysis.training.proposals import assemble, propose  # noqa: E402
from analysis.training.random_fields import Dice, blurred, cloud  # noqa: E402
from analysis.training.relief import SIDE  # noqa: E402
from analysis.training.scenes import draw_scenes  # noqa: E402
from analysis.training.teaching import (  # noqa: E402
    TrainingPlan,
    Turn,
    loss_of,
    patches,
    teach,
    turned,
)
from analysis.voids.opening import network  # noqa: E402
from analysis.voids.opening.planes import (  # noqa: E402
    PATCH_PX,
    PLANES,
    Frames,
    lay_planes,
)

SHORT = TrainingPlan(steps=40, scenes=2, photos=2, each=12, seed=4)


@pytest.fixture(scope="module")
def taught():
    return teach(SHORT, tell=False)


def test_scenes_are_the_same_from_the_same_seed():
    first, again = (draw_scenes(Dice(7, "cpu"), 2) for _ in range(2))
    assert torch.equal(first.light, again.light)
    assert first.light.shape == (2, SIDE, SIDE)
    assert first.light.min() >= 0
    assert first.lamp.norm(dim=1).max() <= 1.0001


def test_photos_hold_their_openings():
    dice = Dice(8, "cpu")
    scenes = draw_scenes(dice, 3)
    photos = photograph(dice, scenes)
    assert photos.light.shape == photos.opening.shape
    assert 0 <= photos.opening.min() <= photos.opening.max() <= 1
    assert 0 <= photos.light.min() <= photos.light.max() <= 1


def a_sunk_square(deep):
    """A flat face with a square hole of one depth, and its columns as light."""
    height = torch.zeros(1, SIDE, SIDE)
    height[:, 100:140, 100:140] = -deep
    return torch.arange(SIDE).float().expand(1, SIDE, SIDE), height


def test_a_grazing_sight_meets_the_floor_farther_on():
    columns, height = a_sunk_square(10.0)
    along = torch.tensor([[1.0, 0.0]])
    # At 45 degrees the sight sinks as far as it goes.
    seen = met_by_the_sight(columns, height, along, torch.tensor([0.5**0.5]))
    assert seen[0, 120, 50] == pytest.approx(50, abs=0.1)  # the face itself
    assert seen[0, 120, 110] == pytest.approx(120, abs=0.6)  # floor, 10 px on
    assert seen[0, 120, 136] == pytest.approx(140, abs=0.6)  # the far wall's foot
    assert seen[0, 90, 120] == pytest.approx(120, abs=0.1)  # beside the hole
    back = met_by_the_sight(columns, height, -along, torch.tensor([0.5**0.5]))
    assert back[0, 120, 130] == pytest.approx(120, abs=0.6)


def test_walls_pass_on_light_only_where_they_hide_the_sky():
    light, sky = torch.ones(4, SIDE, SIDE), torch.ones(4, SIDE, SIDE)
    sky[:, 100:140, 100:140] = 0.4
    light[:, 100:140, 100:120] = 0.2  # in the shade
    added = passed_on(Dice(3, "cpu"), light, sky)
    assert added[:, :80].abs().max() == 0
    shade = added[:, 105:135, 110:118]
    assert (shade >= 0).all()
    # A wall hands on no more than falls on it, however often.
    assert shade.max() < 0.75 * 0.6 / (1 - 0.75 * 0.6) * 1.01
    deeper = passed_on(Dice(3, "cpu"), light * 2, sky)
    assert torch.allclose(deeper, 2 * added, rtol=1e-4, atol=1e-6)


def test_patches_tell_and_answer():
    dice = Dice(9, "cpu")
    patches = propose(dice, photograph(dice, draw_scenes(dice, 3)), 12)
    assert patches.planes.shape[1:] == (PLANES, PATCH_PX, PATCH_PX)
    assert torch.isfinite(patches.planes).all()
    voids = patches.is_void > 0.5
    assert (patches.opening[voids].flatten(1).amax(1) > 0.4).float().mean() > 0.9


def test_blur_keeps_the_light():
    picture = cloud(Dice(1, "cpu"), 2, 64, 9.0) + 5
    soft = blurred(picture, torch.tensor([0.0, 2.0]))
    assert torch.allclose(soft[0], picture[0], atol=1e-3)
    assert soft[1].mean() == pytest.approx(float(picture[1].mean()), rel=0.02)
    assert soft[1].std() < picture[1].std()


@pytest.mark.parametrize("swap", [False, True])
def test_a_turned_patch_keeps_its_light(swap):
    given = patches(Dice(9, "cpu"), SHORT)
    turn = Turn(cols=True, rows=False, swap=swap)
    other = turned(given, turn)
    known = given.planes[:, 7, 0, 0] > 0.5
    told = other.planes[known][:, 8:10, 0, 0]
    col, row = given.planes[known][:, 8:10, 0, 0].T
    wanted = torch.stack([row, -col] if swap else [-col, row], 1)
    assert torch.equal(told, wanted)
    flipped = given.opening.flip(-1)
    assert torch.equal(other.opening, flipped.transpose(-1, -2) if swap else flipped)


def test_an_opening_too_small_costs_by_its_area():
    given = patches(Dice(9, "cpu"), SHORT)
    given = given.where(given.is_void > 0.5)
    true = given.opening[:, None] * 12 - 6
    small = torch.full_like(true, -6.0)
    judged = torch.zeros(len(true), 3)
    least, most = (
        [float(loss_of(drawn, judged, given, area)) for area in (0.0, 0.3)]
        for drawn in (true, small)
    )
    assert least[1] - least[0] < 0.1 * (most[1] - most[0])


def test_going_on_with_a_network_begins_from_it():
    begun = OpeningNet()
    still, _ = teach(
        TrainingPlan(steps=1, scenes=2, photos=2, each=12, seed=4, rate=0.0),
        begun=begun,
        tell=False,
    )
    before = begun.state_dict()["stem.0.weight"]
    assert torch.allclose(still.state_dict()["stem.0.weight"], before, atol=1e-4)


def test_a_told_time_sets_the_steps_and_its_steps_make_it_again(monkeypatch, tmp_path):
    monkeypatch.setattr(pacing, "BEFORE", 1)
    monkeypatch.setattr(pacing, "PACED", 2)
    monkeypatch.setattr(teaching, "_KEPT_STEPS", 2)
    small = {"scenes": 2, "photos": 2, "each": 12, "seed": 4}
    timed, losses = teach(
        TrainingPlan(steps=None, seconds=0.0, **small), out=tmp_path, tell=False
    )
    assert len(losses) == 3
    again, _ = teach(TrainingPlan(steps=3, **small), tell=False)
    for name, kept in timed.state_dict().items():
        assert torch.equal(kept, again.state_dict()[name]), name
    assert (tmp_path / "opening.part.pt").is_file()


def test_loss_falls(taught):
    _, losses = taught
    # Of ten steps each: one is of few patches, and swings by as much as all falls.
    assert np.mean(losses[-10:]) < np.mean(losses[:10])


def test_the_written_network_is_the_trained_one(taught, tmp_path, monkeypatch):
    net, losses = taught
    write_network(net, SHORT, losses, 1.0, tmp_path)
    record = json.loads((tmp_path / "opening.json").read_text(encoding="utf-8"))
    assert record["weights"] == weights_of(OpeningNet()) <= 150_000
    monkeypatch.setattr(network, "WEIGHTS", tmp_path / "opening.onnx")
    planes = np.random.default_rng(1).standard_normal((5, PLANES, PATCH_PX, PATCH_PX))
    planes = planes.astype(np.float32)
    answers = network.ask(planes)
    with torch.no_grad():
        drawn, judged = net(torch.from_numpy(planes))
    assert answers.opening == pytest.approx(
        torch.sigmoid(drawn[:, 0]).numpy(), abs=1e-4
    )
    assert answers.void_logit == pytest.approx(judged[:, 0].numpy(), abs=1e-4)


def test_the_product_lays_the_same_planes():
    rng = np.random.default_rng(5)
    near, far = rng.uniform(0.5, 1.5, (2, 4, PATCH_PX, PATCH_PX)).astype(np.float32)
    seed = (near < 0.8).astype(np.float32)
    half, noise = np.array([6.0, 12.0, 30.0, 80.0]), np.full(4, 0.03)
    light = rng.uniform(-0.5, 0.5, (4, 2))
    frames = Frames(row_px=half, col_px=half, half_px=half, label=np.arange(1, 5))
    ours = lay_planes(near, far, seed, frames, 1.2, noise, light)
    theirs = assemble(
        *(torch.from_numpy(some) for some in (near, far, seed)),
        *(torch.from_numpy(some.astype(np.float32)) for some in (half, half * 0 + 1.2)),
        torch.from_numpy(noise.astype(np.float32)),
        torch.ones(4),
        torch.from_numpy(light.astype(np.float32)),
    )
    # The median of an even count is the mean of two here, the lower of them there.
    assert ours == pytest.approx(theirs.numpy(), abs=0.02)
