"""Train the network that tells face from all else; write it as ONNX and packed.

    python -m analysis.training.faces OUT.onnx [--seconds 480] [--start-from WEIGHTS.pt]

Needs PyTorch, which nothing else here does, and a GPU if it is to be done in minutes.
The network in use learned for 470 s (seed 2), then for 100 s more (seed 7) on a drawing
that had gained prisms, leaking joints and torn cavities, on one H100 each.
"""

from __future__ import annotations

import argparse
from pathlib import Path

import torch

from analysis.imaging.face_finding.packed import pack
from analysis.training.faces.learning import SIDE_PX, train


def main() -> None:
    """Train and write."""
    parser = argparse.ArgumentParser(description="Train the face network.")
    parser.add_argument("out", type=Path)
    parser.add_argument("--seconds", type=float, default=480)
    parser.add_argument("--drawers", type=int, default=15)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--start-from", type=Path, help="weights (.pt) to go on from")
    asked = parser.parse_args()
    network = train(asked.seconds, asked.drawers, asked.seed, asked.start_from)
    torch.save(network.state_dict(), asked.out.with_suffix(".pt"))
    torch.onnx.export(
        network.to(memory_format=torch.contiguous_format),
        (torch.zeros(1, 3, SIDE_PX, SIDE_PX),),
        str(asked.out),
        input_names=["photo"],
        output_names=["kinds"],
        dynamic_axes={"photo": {0: "n"}, "kinds": {0: "n"}},
        opset_version=13,
        dynamo=False,
    )
    packed = asked.out.with_suffix(".w8")
    packed.write_bytes(pack(asked.out.read_bytes()))
    weights = sum(part.numel() for part in network.parameters())
    print(f"{weights} weights, {packed.stat().st_size} bytes")  # noqa: T201


if __name__ == "__main__":
    main()
