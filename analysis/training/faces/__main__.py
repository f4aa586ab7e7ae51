"""Train the network that tells face from all else; write it as ONNX and packed.

    python -m analysis.training.faces OUT.onnx [--seconds 450] [--start-from WEIGHTS]
        [--average SHARE]

Weights to go on from are a .pt or a packed .w8; with `--average` what is written lies
that share of the way from them to what was learned. Needs PyTorch, which nothing else
here does, and a GPU if it is to be done in minutes. Beside the network its record is
written (`.json`): the plan with the number of steps, by which it can be made again, and
how it fared. The network in use is 35 % of what `face.json` tells; the rest learned for
470 s (seed 2), then for 100 s more (seed 7) on a drawing that had gained prisms,
leaking joints and torn cavities, on one H100 each.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path

import numpy as np
import torch

from analysis.imaging.face_finding.packed import pack
from analysis.training.faces.face_network import write_onnx
from analysis.training.faces.kept_weights import averaged, unfolded
from analysis.training.faces.learning import FacePlan, drawn_photos, train

_MEASURED_BY = 96  # photos


def _measuring_photos() -> torch.Tensor:
    """Draw the same photos each time; norms get their means and spreads by them."""
    return torch.from_numpy(drawn_photos(np.random.default_rng(99), _MEASURED_BY))


def main() -> None:
    """Train and write."""
    usual = FacePlan()
    parser = argparse.ArgumentParser(description="Train the face network.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, default=usual.seconds)
    parser.add_argument("--steps", type=int, help="so many: makes a run again")
    parser.add_argument("--drawers", type=int, default=usual.drawers)
    parser.add_argument("--seed", type=int, default=usual.seed)
    parser.add_argument("--rate", type=float, default=usual.rate)
    parser.add_argument("--edge", type=float, default=usual.edge)
    parser.add_argument("--hard", type=float, default=usual.hard)
    parser.add_argument("--blend", type=float, default=usual.blend)
    parser.add_argument("--batch", type=int, default=usual.batch)
    parser.add_argument("--pool", type=int, default=usual.pool)
    parser.add_argument("--checked", type=int, default=usual.checked)
    parser.add_argument("--context", action="store_true")
    parser.add_argument(
        "--start-from", type=Path, help="weights (.pt, .w8) to go on from"
    )
    parser.add_argument("--average", type=float, default=1.0, help="share of the new")
    asked = vars(parser.parse_args())
    out, share = asked.pop("out"), asked.pop("average")
    begin = asked["start_from"]
    if begin is not None and begin.suffix == ".w8":
        asked["start_from"] = out.with_suffix(".begin.pt")
        weights = unfolded(begin.read_bytes(), _measuring_photos()).state_dict()
        torch.save(weights, asked["start_from"])
    network, record = train(FacePlan(**asked), out)
    if share < 1 and begin is not None:
        weights = torch.load(asked["start_from"], map_location="cpu")
        network = averaged(weights, network.state_dict(), share, _measuring_photos())
    record["average"] = share
    torch.save(network.state_dict(), out.with_suffix(".pt"))
    write_onnx(network, out)
    packed = pack(out.read_bytes())
    out.with_suffix(".w8").write_bytes(packed)
    record["weights"] = sum(part.numel() for part in network.parameters())
    record["sha256"] = hashlib.sha256(packed).hexdigest()
    record["torch"] = torch.__version__
    record["card"] = (
        torch.cuda.get_device_name(0) if torch.cuda.is_available() else "cpu"
    )
    record["data"] = "drawn by analysis.training.faces; no photograph"
    out.with_suffix(".json").write_text(json.dumps(record, indent=1) + "\n")
    print(f"{record['weights']} weights, {len(packed)} bytes")  # noqa: T201


if __name__ == "__main__":
    main()
