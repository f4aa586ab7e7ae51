"""Weights read back from the file in use, and averaged. Needs torch and onnx."""

import pytest

torch = pytest.importorskip(
    "torch", reason="torch is installed for training only (analysis/training)."
)

from analysis.training.export import write_onnx  # noqa: E402  after the check
from analysis.training.opening_network import OpeningNet  # noqa: E402
from analysis.training.weights import averaged, main, read_weights  # noqa: E402
from analysis.voids.opening import network  # noqa: E402
from analysis.voids.opening.planes import PATCH_PX, PLANES  # noqa: E402


def some_planes(seed=1, count=4):
    torch.manual_seed(seed)
    return torch.randn(count, PLANES, PATCH_PX, PATCH_PX)


def a_network(seed):
    torch.manual_seed(seed)
    net = OpeningNet()
    net.train()
    net(some_planes(seed, 16))  # norms with statistics of their own
    return net.eval()


def answers(net, planes):
    with torch.no_grad():
        return net(planes)


def test_the_file_in_use_is_read_back_with_the_same_answers():
    net = read_weights(network.WEIGHTS, scenes=2)
    planes = some_planes()
    asked = network.ask(planes.numpy())
    drawn, judged = answers(net, planes)
    assert torch.sigmoid(drawn[:, 0]).numpy() == pytest.approx(asked.opening, abs=1e-3)
    assert judged[:, 0].numpy() == pytest.approx(asked.void_logit, abs=1e-3)


def test_norms_parted_from_the_file_see_what_their_layers_answer():
    net = read_weights(network.WEIGHTS, scenes=2)
    norm = net.at_8[1]
    assert norm.running_var.min() > 0
    assert float(norm.running_var.std()) > 0  # not left at one


def test_an_average_of_one_network_is_that_network(tmp_path):
    net = a_network(3)
    torch.save(net.state_dict(), tmp_path / "one.pt")
    same = averaged({tmp_path / "one.pt": 2.0})
    for mine, its in zip(
        answers(net, some_planes()), answers(same, some_planes()), strict=True
    ):
        assert torch.allclose(mine, its, atol=1e-6)


def test_shares_weigh_the_average(tmp_path):
    for name, seed in (("a", 3), ("b", 4)):
        torch.save(a_network(seed).state_dict(), tmp_path / f"{name}.pt")
    code = main(
        [str(tmp_path / "out"), f"{tmp_path / 'a.pt'}=1", f"{tmp_path / 'b.pt'}=3"]
    )
    assert code == 0
    assert (tmp_path / "out/opening.onnx").is_file()
    mean = read_weights(tmp_path / "out/opening.pt").state_dict()
    one, other = (read_weights(tmp_path / f"{name}.pt").state_dict() for name in "ab")
    name = "stem.0.weight"
    assert torch.allclose(mean[name], 0.25 * one[name] + 0.75 * other[name], atol=1e-6)


@pytest.mark.parametrize("shares", [{}, {"a.pt": 0.0}, {"a.pt": float("nan")}])
def test_shares_that_weigh_nothing_are_refused(shares, tmp_path):
    with pytest.raises(ValueError, match="averaged by shares above 0"):
        averaged({tmp_path / name: share for name, share in shares.items()})


def test_onnx_written_and_read_keeps_the_answers(tmp_path):
    net = a_network(5)
    write_onnx(net, tmp_path / "net.onnx")
    back = read_weights(tmp_path / "net.onnx", scenes=2)
    for mine, its in zip(
        answers(net, some_planes()), answers(back, some_planes()), strict=True
    ):
        assert torch.allclose(mine, its, atol=1e-3)
