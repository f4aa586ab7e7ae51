"""Train the network that tells face from all else; write it as ONNX and packed.

    python -m analysis.training.faces OUT.onnx [--seconds 450] [--start-from WEIGHTS.pt]

Needs PyTorch, which nothing else here does, and a GPU if it is to be done in minutes.
Beside the network its record is written (`.json`): the plan with the number of steps,
by which it can be made again, and how it fared. The network in use learned for 470 s
(seed 2), then for 100 s more (seed 7) on a drawing that had gained prisms, leaking
joints and torn cavities, on one H100 each.
"""

from __future__ import annotations

import argparse
import hashlib
import json
from pathlib import Path

import torch

from analysis.imaging.face_finding.packed import pack
from analysis.training.faces.face_network import write_onnx
from analysis.training.faces.learning import FacePlan, train


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
    parser.add_argument("--start-from", type=Path, help="weights (.pt) to go on from")
    asked = vars(parser.parse_args())
    out = asked.pop("out")
    network, record = train(FacePlan(**asked), out)
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
