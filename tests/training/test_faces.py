"""The training of the face network: drawings, a short run, the written file."""

import cv2
import numpy as np
import pytest

from analysis.imaging.face_finding.packed import pack
from analysis.training.faces.close_ups import close_up
from analysis.training.faces.drawn_hands import HAND_PX, hand_light
from analysis.training.faces.scene import BESIDE, FACE, THING, draw_scene

SEEDS = range(12)


@pytest.fixture(scope="module")
def drawn():
    return [draw_scene(np.random.default_rng(seed), 96) for seed in SEEDS]


def test_the_same_seed_draws_the_same(drawn):
    photo, kinds = draw_scene(np.random.default_rng(5), 96)
    assert (photo == drawn[5][0]).all()
    assert (kinds == drawn[5][1]).all()


def test_all_kinds_are_drawn(drawn):
    found = set(np.unique(np.stack([kinds for _, kinds in drawn])).tolist())
    assert found == {BESIDE, FACE, THING}


def test_a_close_up_fills_most_of_the_photo():
    shares = [
        close_up(np.random.default_rng(seed), (60, 80)).face.mean() for seed in SEEDS
    ]
    assert np.median(shares) > 0.6
    assert max(shares) == 1


def test_bare_skin_is_redder_than_blue_pale_and_dark():
    tones = []
    for seed in SEEDS:
        light, cover, tip = hand_light(np.random.default_rng(seed))
        assert cover.shape == HAND_PX
        assert tip[0] >= 0
        tones.append(np.median(light[cover > 0.5], axis=0))
    tones = np.array(tones)
    redder = tones[:, 0] > 1.2 * tones[:, 2]
    assert redder.mean() > 0.4  # the others wear gloves
    assert tones[redder].max() > 3 * tones[redder].max(axis=1).min()


torch = pytest.importorskip(
    "torch", reason="torch is installed for training only (analysis/training)."
)

from analysis.training.faces.face_network import FaceNetwork, write_onnx  # noqa: E402
from analysis.training.faces.kept_weights import (  # noqa: E402
    averaged,
    looks_of,
    unfolded,
)
from analysis.training.faces.learning import (  # noqa: E402  after the check
    FacePlan,
    drawn_photos,
    loss_of,
    train,
)

SHORT = FacePlan(
    steps=1, drawers=1, seed=4, batch=2, pool=32, checked=16, blend=0.5, context=True
)


def test_loss_falls_on_what_is_seen_again():
    torch.manual_seed(1)
    some = torch.from_numpy(drawn_photos(np.random.default_rng(1), 2))[:, ::2, ::2]
    photos = some[..., :3].permute(0, 3, 1, 2).float() / 127.5 - 1
    kinds = some[..., 3].long()
    network = FaceNetwork(context=True)
    learn = torch.optim.AdamW(network.parameters(), lr=3e-3)
    losses = []
    for _ in range(8):
        loss = loss_of(network(photos), kinds, FacePlan(edge=1.0, hard=1.0))
        learn.zero_grad()
        loss.backward()
        learn.step()
        losses.append(float(loss.detach()))
    assert losses[-1] < 0.8 * losses[0]


def test_the_same_plan_trains_the_same():
    (one, record), (two, _) = train(SHORT), train(SHORT)
    assert record["plan"]["steps"] == 1
    for a, b in zip(one.state_dict().values(), two.state_dict().values(), strict=True):
        assert torch.equal(a, b)


def test_an_older_network_goes_on_with_a_context_of_nothing():
    old = FaceNetwork().eval()
    new = FaceNetwork(context=True).eval()
    new.load_state_dict(old.state_dict(), strict=False)
    photo = torch.rand(1, 3, 64, 64)
    assert torch.equal(old(photo), new(photo))


def test_packed_weights_get_their_norms_back(tmp_path):
    pytest.importorskip("onnx")
    torch.manual_seed(3)
    network = FaceNetwork().eval()
    write_onnx(network, tmp_path / "face.onnx")
    kept = pack((tmp_path / "face.onnx").read_bytes())
    some = torch.from_numpy(np.random.default_rng(2).integers(0, 256, (3, 64, 64, 4)))
    again = unfolded(kept, some.to(torch.uint8))
    with torch.no_grad():
        wanted, found = (net(looks_of(some)) for net in (network, again))
        assert torch.allclose(found, wanted, atol=0.05)  # weights of 8 bits
        # In training as in use: the norms hold what they see on these photos.
        assert torch.allclose(again.train()(looks_of(some)), found, atol=0.05)


def test_weights_of_another_network_are_refused(tmp_path):
    pytest.importorskip("onnx")
    write_onnx(FaceNetwork(context=True), tmp_path / "face.onnx")
    kept = pack(
        (tmp_path / "face.onnx").read_bytes().replace(b"ReduceMean", b"ReduceNone")
    )
    with pytest.raises(ValueError, match="of another network"):
        unfolded(kept, torch.zeros((1, 32, 32, 4), dtype=torch.uint8))


def test_an_average_lies_between():
    torch.manual_seed(4)
    one, other = FaceNetwork().state_dict(), FaceNetwork().state_dict()
    some = torch.randint(0, 256, (4, 64, 64, 4), dtype=torch.uint8)
    middle = averaged(one, other, 0.25, some).state_dict()
    name = "last.weight"
    assert torch.allclose(middle[name], 0.75 * one[name] + 0.25 * other[name])


@pytest.mark.parametrize("context", [False, True])
def test_opencv_reads_what_was_trained(context, tmp_path):
    torch.manual_seed(2)
    network = FaceNetwork(context=context).eval()
    if network.context is not None:
        torch.nn.init.normal_(network.context.weight, 0, 0.1)
    write_onnx(network, tmp_path / "face.onnx")
    photos = np.random.default_rng(1).uniform(-1, 1, (2, 3, 256, 256)).astype("f4")
    read = cv2.dnn.readNetFromONNX(str(tmp_path / "face.onnx"))
    read.setInput(photos)
    with torch.no_grad():
        wanted = network(torch.from_numpy(photos)).numpy()
    assert read.forward() == pytest.approx(wanted, abs=1e-4)
